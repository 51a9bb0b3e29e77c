"""The terminal text: compared whole, and never wider than the terminal."""

from __future__ import annotations

import re
from pathlib import Path

from hypothesis import given, settings
from rich.cells import cell_len

from voicelog.model import EntryLine, Finding, Session
from voicelog.report.text import WIDTH, render

from .build import CAUTIONS, full, rep, session, summary, unversioned
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
        "unclear", "flagged", "next", "remember",
    ]  # fmt: skip
    assert [lane for lane in dict.fromkeys(lanes) if lane in wanted] == wanted


@settings(max_examples=60, deadline=None)
@given(sessions(), finding_lists(), entry_lists())
def test_no_line_is_wider_than_the_terminal(
    work: Session, findings: list[Finding], entries: list[EntryLine]
) -> None:
    text = render(summary(work, findings, entries))
    assert max(cell_len(line) for line in text.split("\n")) <= WIDTH
    assert "\x1b" not in text
    assert text.endswith("format 1\n")


def test_colour_adds_nothing_but_colour() -> None:
    coloured = render(full(), colour=True)
    assert "\x1b[1;31mSTOP\x1b[0m" in coloured
    assert re.sub(r"\x1b\[[\d;]*m", "", coloured) == render(full())


def test_plain_keeps_our_own_marks_to_ascii() -> None:
    plain = render(full(), plain=True)
    assert plain.isascii()
    assert "@ came or did it" in plain


def test_cautions_keep_their_two_lines() -> None:
    first, second = CAUTIONS.splitlines()
    lines = [line.strip() for line in render(full()).splitlines()]
    assert f"remember  {first}" in lines
    assert second in lines
