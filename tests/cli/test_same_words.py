"""Typed notes that were gone on with and added again are asked about, and no others."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.run import Voicelog, made_once, typed_file

LINES = (
    "start session wren",
    "drill recall distraction low",
    "here no button came",
    "here level two came",
    "here level three ignored",
    "here level four came slow",
    "no button came",
)


@pytest.fixture(autouse=True)
@made_once
def added(voicelog: Voicelog, tmp_path: Path) -> None:
    for dog in ("Wren", "Bracken"):
        voicelog("dogs", "put", dog, "--top", "20")
    first = typed_file(tmp_path, *LINES, name="morning.txt")
    assert voicelog("add", "--typed", first, "--at", "2026-04-18T07:30").code == 0


def test_the_same_notes_with_a_line_more_are_left_out_until_somebody_says_otherwise(
    voicelog: Voicelog, tmp_path: Path
) -> None:
    more = typed_file(tmp_path, *LINES, "here came", name="again.txt")
    refused = voicelog("add", "--typed", more, "--at", "2026-04-18T07:30")
    assert refused.code == 1
    assert "has nearly the same lines as 'morning.txt', which is in the log, begun" in refused.err
    assert "--anyway" in refused.err
    assert "1 recording " in voicelog("check").out
    kept = voicelog("add", "--typed", more, "--at", "2026-04-18T07:30", "--anyway")
    assert kept.code == 0
    assert "2 recordings " in voicelog("check").out


def test_a_line_written_otherwise_does_not_hide_that_they_are_the_same(
    voicelog: Voicelog, tmp_path: Path
) -> None:
    lines = [*LINES[:4], "here lvl three ignored", *LINES[5:]]
    other = typed_file(tmp_path, *lines, name="again.txt")
    assert voicelog("add", "--typed", other, "--at", "2026-04-18T09:00").code == 1


@pytest.mark.parametrize(
    ("lines", "at"),
    [
        ((*LINES, "here came"), "2026-04-19T07:30"),
        (("start session wren", "here no button came", "here level two came"), "2026-04-18T18:00"),
        (("start session wren", *(["here no button came"] * 9)), "2026-04-18T18:00"),
    ],
)
def test_another_day_and_short_or_uniform_notes_are_no_copies(
    voicelog: Voicelog, tmp_path: Path, lines: tuple[str, ...], at: str
) -> None:
    other = typed_file(tmp_path, *lines, name="other.txt")
    assert voicelog("add", "--typed", other, "--at", at).code == 0


def test_notes_of_another_dog_are_no_copies(voicelog: Voicelog, tmp_path: Path) -> None:
    first = typed_file(tmp_path, *LINES[1:], name="wren.txt")
    second = typed_file(tmp_path, *LINES[1:], "here came", name="bracken.txt")
    day = ("--at", "2026-04-20T07:30")
    assert voicelog("add", "--typed", first, "--dog", "Wren", *day).code == 0
    assert voicelog("add", "--typed", second, "--dog", "Bracken", *day).code == 0
