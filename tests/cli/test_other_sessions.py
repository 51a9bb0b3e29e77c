"""What an act on one session changes in what is found in others of the dog is told and counted."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.run import Voicelog, made_once, typed_file

RED = ("ss bracken", "here nb c", "skin red left side")
WORN = ("ss bracken", "collar fitted", "fit check two fingers", "here l3 c")
STOP = "stop {} the session of Bracken on 26 Apr 2026: The skin was red"
NOW, GONE = STOP.format("now stands in"), STOP.format("no longer stands in")


@pytest.fixture
@made_once
def _sessions(voicelog: Voicelog, tmp_path: Path) -> None:
    voicelog("dogs", "put", "Bracken", "--top", "20", "--cue", "here")
    path = typed_file(tmp_path, *RED, name="red.txt")
    assert voicelog("add", "--typed", path).code == 0
    worn = typed_file(tmp_path, *WORN, name="worn.txt")
    assert voicelog("add", "--typed", worn, "--at", "2026-04-26T07:30").code == 0


@pytest.fixture
def red(_sessions: None, tmp_path: Path) -> Path:
    """Notes with red skin (to check) and without a date, put in before a session of 26 April."""
    return tmp_path / "red.txt"


def test_a_date_that_brings_a_stop_into_a_later_session_says_so(
    voicelog: Voicelog, red: Path
) -> None:
    told = voicelog("add", "--typed", red, "--at", "2026-04-24T07:30").out
    assert f"1 {NOW}" in told
    assert "Perhaps: what it is based on in an earlier session is to check" in told
    later = voicelog("add", "--typed", red, "--at", "2026-04-28T07:30", "--redate").out
    assert f"1 {GONE}" in later


def test_a_correction_its_undo_and_a_deletion_say_so_too(voicelog: Voicelog, red: Path) -> None:
    voicelog("add", "--typed", red, "--at", "2026-04-24T07:30")
    on = ("correct", "Bracken", "--day", "2026-04-24")
    void = voicelog(*on, "--entry", "3", "--void").out
    assert f"1 {GONE}" in void
    undone = voicelog(*on, "--undo").out
    assert f"1 {NOW}" in undone
    sure = voicelog(*on, "--entry", "3", "--words", "skin red").out
    assert "1 stop is sure now in the session of Bracken on 26 Apr 2026" in sure
    again = voicelog(*on, "--undo").out
    assert "1 stop is in doubt now in the session of Bracken on 26 Apr 2026" in again
    gone = voicelog("delete", "session", "Bracken", "--day", "2026-04-24", "--yes").out
    assert f"1 {GONE}" in gone


def test_the_date_is_set_from_the_terminal_with_the_same_answer(
    voicelog: Voicelog, red: Path
) -> None:
    asked = voicelog("correct", "Bracken")
    assert asked.code != 0  # which of the two is last nobody knows
    key = asked.err.partition("no date: ")[2].partition(";")[0]
    told = voicelog("correct", "--session", key, "--start", "2026-04-24T07:30").out
    assert f"1 {NOW}" in told


def test_a_backup_that_brings_an_earlier_session_says_so(
    voicelog: Voicelog, red: Path, tmp_path: Path
) -> None:
    voicelog("add", "--typed", red, "--at", "2026-04-24T07:30")
    backup = tmp_path / "backup.zip"
    assert voicelog("backup", str(backup)).code == 0
    other = ("--data-dir", str(tmp_path / "other"))
    voicelog("dogs", "put", "Bracken", "--top", "20", "--cue", "here", *other)
    worn = typed_file(tmp_path, *WORN, name="worn.txt")
    voicelog("add", "--typed", worn, "--at", "2026-04-26T07:30", *other)
    told = voicelog("restore", str(backup), *other).out
    assert f"1 {NOW}" in told


def test_a_session_without_a_date_is_shown_and_taken_as_older_on_every_paper(
    voicelog: Voicelog, red: Path
) -> None:
    shown = " ".join(voicelog("summary", "Bracken").out.split())
    rule = "not known: taken as older than all sessions with a date"
    assert shown.index(rule) < shown.index("Sun 26 Apr 2026")
    assert "3 (1 rep)" in shown
    plan = " ".join(voicelog("plan", "Bracken").out.split())
    assert "1 session without a date taken as older than all others." in plan
    progress = " ".join(voicelog("progress", "Bracken", "--all").out.split())
    assert "1 session without a date taken as older than all others." in progress


def test_a_share_that_brings_an_earlier_session_says_so(
    voicelog: Voicelog, red: Path, tmp_path: Path
) -> None:
    voicelog("add", "--typed", red, "--at", "2026-04-24T07:30")
    share, other = tmp_path / "share", ("--data-dir", str(tmp_path / "other"))
    voicelog("dogs", "put", "Bracken", "--top", "20", "--cue", "here", *other)
    worn = typed_file(tmp_path, *WORN, name="worn.txt")
    voicelog("add", "--typed", worn, "--at", "2026-04-26T07:30", *other)
    assert voicelog("share", "start", share, "--as", "Anna").code == 0
    told = voicelog("share", "start", share, "--as", "Joe", *other).out
    assert f"1 {NOW}" in told


HUP = ("ss bracken", "here nb c", "hup skin red left side", "hup here nb c")


def later(voicelog: Voicelog, folder: Path, lines: tuple[str, ...]) -> None:
    """These notes of 24 April, and a session of 26 April."""
    voicelog("dogs", "put", "Bracken", "--top", "20", "--cue", "here")
    voicelog("dogs", "put", "Wren", "--top", "20", "--cue", "here")
    for name, some, day in (("first.txt", lines, 24), ("worn.txt", WORN, 26)):
        path = typed_file(folder, *some, name=name)
        assert voicelog("add", "--typed", path, "--at", f"2026-04-{day}T07:30").code == 0


def test_what_is_heard_again_says_so(voicelog: Voicelog, tmp_path: Path) -> None:
    later(voicelog, tmp_path, HUP)
    voicelog("dogs", "put", "Bracken", "--top", "20", "--cue", "here", "--cue", "hup")
    told = voicelog("rehear", "--yes").out
    assert f"1 {NOW}" in told, told


def test_an_answer_about_a_name_says_so(voicelog: Voicelog, tmp_path: Path) -> None:
    later(voicelog, tmp_path, ("ss bracken", "here nb c", "bob here l3 yelped c"))
    told = voicelog("questions", "--name", "bob", "--is", "Bracken").out
    assert "now stands in the session of Bracken on 26 Apr 2026: Level 3 was used" in told


@pytest.mark.parametrize(
    "what", [("dog", "Wren"), ("session", "Wren", "--day", "2026-04-24")], ids=["dog", "session"]
)
def test_deleting_a_dog_says_what_that_takes_from_another(
    voicelog: Voicelog, tmp_path: Path, what: tuple[str, ...]
) -> None:
    """How hot it was had been said in the session of the first dog only."""
    lines = ("ss wren", "here nb c", "temperature 40", "ss bracken", "here l3 c")
    later(voicelog, tmp_path, lines)
    told = voicelog("delete", *what, "--yes").out
    assert "1 stop no longer stands in the session of Bracken on 24 Apr 2026: The air is" in told
    assert "session of Wren" not in told
