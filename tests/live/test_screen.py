"""One calm page: 80 by 24 whatever happens, in words, with nothing that rewrites the terminal."""

from __future__ import annotations

import errno
import io
import unicodedata
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len
from rich.console import Console

from tests.live.stage import Script, Stage
from voicelog.live.screen import COLUMNS, LINES, Screen, ScreenContent, page
from voicelog.live.screen_content import screen_content_of

TEXT = st.text(max_size=120)
PICTURES = st.builds(
    ScreenContent,
    dog=TEXT,
    seconds=st.floats(0, 1e6),
    session_s=st.none() | st.floats(0, 1e6),
    level=st.sampled_from(("", "3", "999")),
    ceiling=st.sampled_from(("", "6")),
    reps=st.integers(0, 9999),
    check=st.integers(0, 9999),
    open=st.booleans(),
    peak_dbfs=st.none() | st.floats(-120, 0),
    input=TEXT,
    entries=st.lists(
        st.tuples(st.sampled_from(("sure", "check", "not understood", "void")), TEXT), max_size=30
    ),
    findings=st.lists(TEXT, max_size=12),
    troubles=st.lists(TEXT, max_size=6),
    question=st.none() | TEXT,
    stop=st.none() | TEXT,
)


@given(PICTURES, st.sampled_from([(COLUMNS, LINES), (60, 20), (200, 60)]))
def test_the_page_fits_whatever_it_shows(picture: ScreenContent, size: tuple[int, int]) -> None:
    lines = page(picture, *size).split("\n")
    assert len(lines) <= min(size[1], LINES)
    assert all(cell_len(line) <= min(size[0], COLUMNS) for line in lines)
    assert not any(unicodedata.category(sign) == "Cc" for line in lines for sign in line)
    assert lines[-1] == picture.hint


@given(
    PICTURES.filter(lambda picture: picture.stop is not None),
    st.sampled_from([(COLUMNS, LINES), (60, 20)]),
)
def test_a_stop_and_trouble_are_never_pushed_off(
    picture: ScreenContent, size: tuple[int, int]
) -> None:
    text = page(picture, *size)
    assert "\nSTOP:" in text
    assert text.count("\n! ") == min(3, len(picture.troubles))


def test_a_small_screen_keeps_whole_sentences_of_what_matters() -> None:
    trouble = "The disk does not take it (No space left on device); free some space, it goes on."
    picture = ScreenContent(
        stop="Stop. Above the ceiling", question="level three?", troubles=(trouble,) * 3,
        entries=(("sure", "came"),) * 7,
    )  # fmt: skip
    text = page(picture, 60, 20)
    assert "STOP: Stop. Above the ceiling  (say roger)" in text
    assert " ".join(text.split()).count("free some space, it goes on.") == 3
    assert "or it again)" in text
    assert "said last" in text


def test_a_closed_terminal_ends_no_session(capsys: pytest.CaptureFixture[str]) -> None:
    """Neither drawing, nor a line, nor the end of the page raises where its terminal is gone."""

    class Closed(io.StringIO):
        gone = False

        def write(self, text: str) -> int:
            if self.gone:
                raise OSError(errno.EIO, "Input/output error")
            return super().write(text)

    terminal = Closed()
    with Screen(console=Console(file=terminal, force_terminal=True)) as screen:
        screen.show(ScreenContent(dog="Bracken"))
        terminal.gone = True
        screen.show(ScreenContent(dog="Bracken"))
        screen.line("sure: came")
    assert "Bracken" in terminal.getvalue()
    assert capsys.readouterr().out == ""


def test_the_page_of_a_session_in_the_field() -> None:
    picture = ScreenContent(
        dog="Bracken",
        seconds=754.0,
        session_s=613.0,
        level="3",
        ceiling="6",
        reps=12,
        check=1,
        open=True,
        peak_dbfs=-12.0,
        input="pocketsphinx 5.1.1 en-us",
        entries=(("sure", "here level three"), ("check", "came slow")),
        findings=("caution: Up from level 1 to 3 at once in rep 12.",),
        question="level three?",
    )
    assert page(picture) == (
        "voicelog listening 12:34                                           session 10:13\n"
        "\n"
        "Bracken                                                                 rep open\n"
        "level 3   ceiling 6   12 reps, 1 to check\n"
        "\n"
        "input [################....]  -12 dBFS  pocketsphinx 5.1.1 en-us\n"
        "\n"
        'asked: "level three?"  (say affirm, negative, or it again)\n'
        "\n"
        "said last\n"
        "  sure           here level three\n"
        "  check          came slow\n"
        "\n"
        "findings\n"
        "  caution: Up from level 1 to 3 at once in rep 12.\n"
        "Ctrl-C ends the session"
    )


def test_before_anything_was_said_it_tells_what_to_say() -> None:
    assert "no dog yet: say start session and a name" in page(ScreenContent())


def test_on_a_terminal_pages_are_drawn_and_elsewhere_lines_are_printed(
    capsys: pytest.CaptureFixture[str],
) -> None:
    drawn = io.StringIO()
    console = Console(file=drawn, force_terminal=True, width=80, height=24, color_system=None)
    with Screen(console=console) as screen:
        screen.show(ScreenContent(dog="Bracken"))
        screen.line("not on a page")
    assert "Bracken" in drawn.getvalue()
    assert "\x1b[31m" not in drawn.getvalue(), "no colour is needed"
    assert capsys.readouterr().out == ""
    with Screen(console=Console(file=io.StringIO())) as screen:
        screen.show(ScreenContent(dog="Bracken"))
        screen.line("sure: came")
    assert capsys.readouterr().out == "sure: came\n"


def test_it_shows_what_the_session_is_at(tmp_path: Path) -> None:
    lines = ((3.0, "start session bracken"), (8.0, "here level seven"))
    stage = Stage(tmp_path, Script(lines), seconds=11.0)
    assert stage.run()
    picture = screen_content_of(stage.live)
    assert (picture.dog, picture.level, picture.ceiling) == ("Bracken", "7", "6")
    assert picture.open
    assert picture.stop == "Stop. Above the ceiling"
    assert picture.entries == (("sure", "start session bracken"), ("sure", "here level seven"))
    assert picture.findings[0].startswith("stop: Level 7")
