"""A card is printed, read, judged, and kept only where it gains and she agrees."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.cli.run import Voicelog
from tests.hearing.speaking import LoudnessDetector, burst, hiss
from tests.sound.making import write
from tests.sound.stand_in import StandIn
from voicelog.cli import voice as command
from voicelog.cli.lists import open_log
from voicelog.hearing.fit import USUAL, Fit, Setting
from voicelog.hearing.segmenter import Segment, segments

FASTER = Setting(speed=1.1)


@pytest.fixture(autouse=True)
def roster(voicelog: Voicelog) -> None:
    voicelog("dogs", "put", "Bracken", "--top", "5")
    voicelog("dogs", "handler", "Anna")


@pytest.fixture
def reads(monkeypatch: pytest.MonkeyPatch) -> Callable[[int, Setting], None]:
    """So many lines are found in any recording, and that setting is the best."""

    def so_many(count: int, setting: Setting) -> None:
        def follow(lines: Any, found: Any, *_: Any) -> tuple[tuple[str, Segment], ...]:
            return tuple((line, found[0]) for line in lines[:count])

        def fit(read: Any, *_: Any, **__: Any) -> Fit:
            lines = tuple(line for line, _ in read)
            before = ("missed",) * 4 + ("sure",) * (len(lines) - 4)
            after = before if setting == USUAL else ("sure",) * len(lines)
            return Fit(lines, before, after, setting)

        monkeypatch.setattr("voicelog.hearing.follow.follow", follow)
        monkeypatch.setattr("voicelog.hearing.fit.fit", fit)

    return so_many


@pytest.fixture
def recording(tmp_path: Path) -> Path:
    sound = np.concatenate([hiss(1.0), burst(1.0), hiss(1.0)])
    return write(tmp_path / "card.wav", sound, 16_000)


def kept(tmp_path: Path) -> list[str]:
    with open_log(tmp_path / "data") as log:
        return [voice.name for voice in log.voices()]


def test_the_card_is_thirty_lines_of_the_roster(voicelog: Voicelog) -> None:
    lines = voicelog("voice", "--card").out.splitlines()
    assert len(lines) == 30
    assert lines[0] == "start session bracken"


def test_who_reads_must_be_on_the_roster(voicelog: Voicelog) -> None:
    result = voicelog("voice", "Ben", "--forget")
    assert result.code == 2
    assert result.err == (
        "voicelog: Found no handler 'Ben', wanted one of the roster (Anna); name one, or add a "
        "new one first: voicelog dogs handler NAME.\n"
    )
    voicelog("dogs", "handler", "Ben")
    assert "Found no handler named, wanted one" in voicelog("voice", "--forget").err


def test_the_careful_listener_alone_has_nothing_to_fit(voicelog: Voicelog) -> None:
    assert voicelog("voice", "--listener", "careful").err == (
        "voicelog: Found --listener careful, wanted the quick one to be there, since that is what "
        "is fitted; leave it out, or take --listener quick.\n"
    )


def test_too_few_lines_are_refused(
    voicelog: Voicelog, reads: Callable[[int, Setting], None], recording: Path
) -> None:
    reads(3, FASTER)
    result = voicelog("voice", "Anna", recording, "--keep", "--listener", "quick")
    assert result.code == 1
    assert "3 of 30 lines found. The microphone: peak" in result.out
    assert "  not found: " in result.out
    assert result.err == (
        "voicelog: Found 3 lines of the card, wanted 20 at least; read it again, line by line, "
        "with a second of silence after each.\n"
    )


def test_no_gain_is_said_and_nothing_kept(
    voicelog: Voicelog, reads: Callable[[int, Setting], None], recording: Path, tmp_path: Path
) -> None:
    reads(30, USUAL)
    result = voicelog("voice", "Anna", recording, "--keep", "--listener", "quick")
    assert result.code == 0
    assert "No gain, nothing to keep: you are heard as anybody is." in result.out
    assert "  missed as it is: start session bracken" in result.out
    assert kept(tmp_path) == []


def test_a_gain_is_kept_only_when_asked_to_and_can_be_let_go(
    voicelog: Voicelog, reads: Callable[[int, Setting], None], recording: Path, tmp_path: Path
) -> None:
    reads(30, FASTER)
    result = voicelog("voice", "Anna", recording, "--listener", "quick")
    assert result.out.endswith("Not kept; to keep it, run this again with --keep.\n")
    assert kept(tmp_path) == []
    again = ("voice", "Anna", recording, "--keep", "--listener", "quick")
    out = voicelog(*again, "--microphone", "Desk").out
    assert (
        "4 lines better and 0 worse, judged without them, by: the sound played at 1.1 times its "
        "speed.\n" in out
    )
    assert out.endswith("Kept for Anna; used where Anna speaks (--as Anna).\n")
    assert kept(tmp_path) == ["Anna at Desk"]
    with open_log(tmp_path / "data") as log:
        assert log.roster().handlers == ("Anna",)
    assert voicelog("voice", "Anna", "--forget").out == "Anna is heard as anybody is.\n"
    assert kept(tmp_path) == []
    assert voicelog("voice", "Anna", "--forget").out == "Nothing was kept for Anna.\n"


def test_what_was_kept_is_used_and_named_where_she_speaks(
    voicelog: Voicelog, reads: Callable[[int, Setting], None], recording: Path
) -> None:
    reads(30, FASTER)
    voicelog("voice", "Anna", recording, "--keep", "--listener", "quick")
    read = ("read", recording, "--listener", "quick", "--format", "json")
    assert "en-us voice anna 1" in voicelog(*read).out
    assert "en-us voice anna 1" in voicelog(*read, "--as", "anna").out
    assert "voice anna" not in voicelog(*read, "--as", "Ben").out


def test_lines_are_shown_one_by_one_and_short_false_starts_asked_for_again(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    library = StandIn([("Headset", 1, 0, 16_000)])
    line = "level three came"
    short, whole = burst(0.25), burst(1.2)
    sound = np.concatenate([hiss(1.0), short, hiss(1.0), whole, hiss(1.0)])

    def opened_and_spoken(blocks: Any) -> Any:
        library.brings(sound.reshape(-1, 1))
        return segments(blocks)

    monkeypatch.setattr("voicelog.hearing.segmenter.SileroVAD", LoudnessDetector)
    monkeypatch.setattr("voicelog.sound.microphone.portaudio", lambda: library)
    monkeypatch.setattr("voicelog.hearing.segmenter.segments", opened_and_spoken)
    monkeypatch.setattr(command, "PATIENCE_S", 1.0)
    read, level, name = command._from_microphone([line, "yelped"], None, None)
    assert [words for words, _ in read] == [line]
    assert read[0][1].start > 1.5 * 16_000
    assert (name, level.peak_dbfs is not None) == ("Headset", True)
    assert capsys.readouterr().out.splitlines() == [
        "Read each line when it is shown, as you would at work. Ctrl-C ends it.",
        " 1 of 2: level three came",
        "    again, all of it",
        " 2 of 2: yelped",
    ]
