"""After another version each command derives first what it is asked about, and reads nothing that
the other version left of the rest."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

import pytest

from tests.another_program import dogs_that_wait, left_by_another
from tests.cli.run import Voicelog, typed_file

NOTES = ("here level three yelped came", "here no button came")


@pytest.fixture
def log(voicelog: Voicelog, tmp_path: Path) -> Path:
    """Four sessions with an open matter each, of Wren on the last day and of Bracken before."""
    days = {"2026-04-01": "Bracken", "2026-04-02": "Wren", "2026-04-03": "Bracken"}
    for day, dog in (*days.items(), ("2026-04-04", "Wren")):
        voicelog("dogs", "put", dog, "--top", "20")
        path = typed_file(tmp_path, f"start session {dog}", *NOTES, name=f"{day}.tsv")
        assert voicelog("add", "--typed", path, "--at", f"{day}T07:30").code == 0
    return tmp_path / "data" / "log.sqlite3"


def session_ids(told: str) -> list[str]:
    """The ids of sessions in what was printed."""
    return re.findall(r"\bsession (u-\S+)", told)


@pytest.mark.parametrize(
    "asked",
    [
        ("summary",),
        ("summary", "Wren"),
        ("progress", "Wren"),
        ("plan", "Wren"),
        ("correct", "Wren"),
        ("correct", "--session", "LAST"),
        ("questions",),
        ("questions", "Wren"),
        ("questions", "--day", "2026-04-02"),
        ("matters", "list", "Wren"),
    ],
)
def test_what_is_asked_for_is_derived_first_and_nothing_else_is_read(
    voicelog: Voicelog, log: Path, asked: Sequence[str]
) -> None:
    last = session_ids(voicelog("correct", "Wren").out)[0]
    asked = [last if one == "LAST" else one for one in asked]
    before = voicelog(*asked)
    assert before.code == 0
    left_by_another(log)
    after = voicelog(*asked)
    assert (after.code, after.out) == (0, before.out)
    assert after.err.startswith("voicelog: 2 recordings of other dogs not yet read again")
    assert dogs_that_wait(log) == ["Bracken"]


def test_a_matter_is_closed_after_its_dog_was_derived_and_no_other(
    voicelog: Voicelog, log: Path
) -> None:
    listed = voicelog("matters", "list", "Wren").out
    name = re.findall(r"\b([0-9a-f]{8}): ", listed)[0]
    left_by_another(log)
    done = voicelog("matters", "close", name, "--as", "Anna", "--reason", "seen by the vet")
    assert (done.code, done.out[:8]) == (0, name)
    assert dogs_that_wait(log) == ["Bracken"]
    again = voicelog("matters", "reopen", name, "--as", "Anna", "--reason", "it yelped again")
    assert (again.code, dogs_that_wait(log)) == (0, ["Bracken"])


def test_what_is_new_is_derived_with_all_of_its_dog(
    voicelog: Voicelog, log: Path, tmp_path: Path
) -> None:
    path = typed_file(tmp_path, "start session Wren", "here came", name="new.tsv")
    left_by_another(log)
    added = voicelog("add", "--typed", path, "--at", "2026-04-05T07:30")
    assert (added.code, dogs_that_wait(log)) == (0, ["Bracken"])
    plan = voicelog("plan", "Wren").out
    assert voicelog("rebuild").code == 0
    assert voicelog("plan", "Wren").out == plan


def test_accuracy_is_told_from_what_people_read_and_derives_nothing(
    voicelog: Voicelog, log: Path
) -> None:
    before = voicelog("learn")
    left_by_another(log)
    assert voicelog("learn").out == before.out
    assert dogs_that_wait(log) == ["Bracken", "Wren"]


def test_all_dogs_are_derived_where_all_are_asked_for(voicelog: Voicelog, log: Path) -> None:
    for asked in (("kennel",), ("matters", "list"), ("questions", "--all"), ("summary", "--all")):
        before = voicelog(*asked)
        left_by_another(log)
        after = voicelog(*asked)
        assert (after.code, after.out, after.err) == (0, before.out, ""), asked
        assert dogs_that_wait(log) == []


def test_a_new_session_does_not_rest_on_what_another_program_left_of_its_dog(
    voicelog: Voicelog, log: Path, tmp_path: Path
) -> None:
    left_by_another(log)
    path = typed_file(tmp_path, "start session Bracken", "here came", name="later.tsv")
    assert voicelog("add", "--typed", path, "--at", "2026-04-06T07:30").code == 0
    assert dogs_that_wait(log) == ["Wren"]
    shown = voicelog("summary", "Bracken")
    assert voicelog("rebuild").code == 0
    assert (voicelog("summary", "Bracken").out, shown.code) == (shown.out, 0)
    assert "set aside" not in shown.err
