"""The terminal text: compared whole, and never wider than the terminal."""

from __future__ import annotations

import re
from pathlib import Path

from hypothesis import given, settings
from rich.cells import cell_len

from voicelog.model import EntryOutput, Finding, Session
from voicelog.report import html, markdown
from voicelog.report.finding_groups import finding_groups
from voicelog.report.text import WIDTH, render
from voicelog.safety import Settings

from .build import CAUTIONS, finding, full, rep, session, summary, unversioned
from .strategies import entry_lists, finding_lists, sessions

HERE = Path(__file__).parent


def test_a_whole_session_reads_as_agreed() -> None:
    assert unversioned(render(full())) == (HERE / "full.txt").read_text(encoding="utf-8")


def test_a_plain_session_reads_as_agreed() -> None:
    made = summary(session([rep(1), rep(2, outcome="slow"), rep(3)]))
    assert unversioned(render(made)) == (HERE / "plain.txt").read_text(encoding="utf-8")


def test_the_parts_stand_in_order() -> None:
    lanes = re.findall(r"(?m)^ *(\S[\w ]*?)  ", render(full()))
    wanted = [
        "STOP", "CAUTION", "remark", "dog", "counts", "levels", "plot", "reps", "skin",
        "to check", "flagged", "next", "remember",
    ]  # fmt: skip
    assert [lane for lane in dict.fromkeys(lanes) if lane in wanted] == wanted


@settings(max_examples=60, deadline=None)
@given(sessions(), finding_lists(), entry_lists())
def test_no_line_is_wider_than_the_terminal(
    work: Session, findings: list[Finding], entries: list[EntryOutput]
) -> None:
    text = render(summary(work, findings, entries))
    assert max(cell_len(line) for line in text.split("\n")) <= WIDTH
    assert "\x1b" not in text
    assert text.endswith("format 1\n")


def test_colour_adds_nothing_but_colour() -> None:
    coloured = render(full(), colour=True)
    assert "\x1b[1;31mSTOP\x1b[0m" in coloured
    assert re.sub(r"\x1b\[[\d;]*m", "", coloured) == render(full())


def test_for_a_screen_reader_it_reads_as_agreed() -> None:
    plain = render(full(), plain=True)
    assert plain.isascii()
    assert unversioned(plain) == (HERE / "spoken.txt").read_text(encoding="utf-8")


@settings(max_examples=60, deadline=None)
@given(sessions(), finding_lists(), entry_lists())
def test_for_a_screen_reader_nothing_stands_side_by_side(
    work: Session, findings: list[Finding], entries: list[EntryOutput]
) -> None:
    made = summary(work, findings, entries)
    plain = render(made, plain=True)
    assert max(cell_len(line) for line in plain.split("\n")) <= WIDTH
    for line in made.reps:
        assert f"Rep {line.number} at {line.at}:" in plain
    assert len(re.findall(r"(?m)^ +(?:sure|check|void)  Rep ", plain)) == len(made.reps)


def test_findings_of_one_rule_are_told_once_with_all_their_reps() -> None:
    far = "a basis so long that a small page should tell it only once"
    many = [
        finding("step-big", "caution", f"up by two in rep {n}", "go up by one", reps=(n,), basis=b)
        for n, b in ((3, far), (5, far))
    ]
    again = finding("stress", "caution", "yelped in rep 9", "thumb off", reps=(9,), basis=far)
    doubt = many[1].model_copy(update={"reps": (7,), "on_doubt": True})
    text = " ".join(render(summary(session([rep(1)]), [*many, doubt, again])).split())
    assert (
        f"CAUTION Up by two in rep 3. (3 times; reps 3, 5 and 7; {far}; 1 of them based on "
        "an entry to check) next time Go up by one. "
        "CAUTION Yelped in rep 9. (basis as above) next time Thumb off."
    ) in text
    for paper in (markdown.render, html.render):
        assert paper(summary(session([rep(1)]), many)).count(far) == 2


def test_a_finding_told_once_is_never_a_milder_or_a_void_one() -> None:
    stop = finding("heat", "stop", "the air is 30 C", "stop work")
    mild = finding("heat", "remark", "the air is 22 C", "stop work")
    struck = stop.model_copy(update={"struck": True})
    text = render(summary(session([rep(1)]), [mild, struck, stop]))
    assert text.count("STOP") == 2
    assert "remark  The air is 22 C." in text
    assert "STOP  Void: the air is 30 C." in text


def test_changed_thresholds_are_named_in_every_paper() -> None:
    made = summary(session([rep(1)]), settings=Settings(press_s=2.0))
    words = "threshold press_s set to 2 (default 3)"
    for paper in (render, markdown.render, html.render):
        assert words in paper(made).replace("\\_", "_")
        assert "threshold" not in paper(summary(session([rep(1)]), settings=Settings()))


def test_cautions_keep_their_two_lines() -> None:
    first, second = CAUTIONS.splitlines()
    lines = [line.strip() for line in render(full()).splitlines()]
    assert f"remember  {first}" in lines
    assert second in lines


def test_of_several_jumps_in_level_the_largest_is_named() -> None:
    jumps = [
        finding("step-big", "caution", f"Up from level {a} to {b} at once in rep {n}.", "One step.",
                reps=(n,))
        for n, a, b in ((3, 1, 4), (4, 4, 11), (5, 1, 5))
    ]  # fmt: skip
    made = summary(session([rep(1)]), jumps)
    text = " ".join(render(made).split())
    assert "Up from level 4 to 11 at once in rep 4. (3 times; reps 3, 4 and 5" in text
    assert "from level 1 to 4" not in text
    (group,) = finding_groups(made.notices)
    assert group.line.startswith("Up from level 4 to 11")
