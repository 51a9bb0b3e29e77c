"""The diary derives what is stale, and nothing else, in the order of time."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import pytest

from tests.review.evening import NOW, keep
from voicelog import diary as diary_module
from voicelog.diary import Diary, entries_of
from voicelog.log import Log, SessionFilter, UnknownTargetError
from voicelog.model import Action, Reading

YELPED = ("start session bracken", "here level two yelped", "came")
QUIET = ("start session bracken", "here level two came", "praised")
BOTH = ("x wind", "here level one came", "start session wren", "here came", "end session", "x wind")


@pytest.fixture
def log(tmp_path: Path) -> Iterator[Log]:
    with Log.open(tmp_path, now=lambda: NOW) as log:
        yield log


def day(number: int) -> datetime:
    return datetime(2026, 4, number, 7, 30)


def rules(diary: Diary, recording: str) -> set[str]:
    return {finding.rule for finding in diary.line(recording).findings}


def test_only_what_changed_is_derived_again(log: Log) -> None:
    diary = Diary(log)
    assert diary.refresh() == 0
    first = keep(log, QUIET, "first", at=day(1))
    keep(log, QUIET, "second", at=day(2))
    assert diary.refresh() == 2
    assert diary.refresh() == 0
    entry = diary.line(first).entries[1].id
    log.append([Action(id="c", action="confirm", target=entry, who="Anna")])
    assert diary.stale() == (first,)
    assert diary.refresh() == 1  # nothing that later sessions depend on is different


def test_a_strong_sign_found_later_reaches_the_sessions_after_it(log: Log) -> None:
    diary = Diary(log)
    first = keep(log, QUIET, "first", at=day(1))
    second = keep(log, QUIET, "second", at=day(2))
    diary.refresh()
    assert "stress-level-again" not in rules(diary, second)
    words = "here level two yelped came"
    entry = diary.line(first).entries[1].id
    log.append([Reading(id="r", utterance=entry, words=words, by="person", who="Anna")])
    diary.bring(first)
    assert diary.stale() == (second,)
    assert [row.stale for row in diary.headings(SessionFilter()).rows] == [True, False]
    assert diary.refresh() == 1
    assert "stress-level-again" in rules(diary, second)


def test_what_went_stale_for_nothing_is_good_again_without_being_derived(
    log: Log, monkeypatch: pytest.MonkeyPatch
) -> None:
    diary = Diary(log)
    days = [keep(log, QUIET, str(number), at=day(number)) for number in range(1, 25)]
    diary.refresh()
    entry = diary.line(days[0]).entries[1].id
    words = "here level one came"  # what was answered on the first of many days
    log.append([Reading(id="r", utterance=entry, words=words, by="person", who="Anna")])
    diary.bring(days[0])
    assert diary.stale() == tuple(days[1:])
    derived: list[str] = []
    monkeypatch.setattr(Diary, "bring", lambda self, recording: derived.append(recording))
    assert not diary.freshen(days[-1])
    assert derived == []
    assert diary.freshen(days[1])
    assert derived == [days[1]]
    assert diary.stale() == tuple(days[1:-1])


def test_a_recording_that_comes_in_late_or_moves_takes_its_place(log: Log) -> None:
    diary = Diary(log)
    later = keep(log, QUIET, "later", at=day(2))
    diary.refresh()
    early = keep(log, YELPED, "early", at=day(1))
    assert diary.refresh() == 2
    assert "stress-level-again" in rules(diary, later)
    entry = diary.line(early).entries[0].id
    moved = Action(id="m", action="clock", target=entry, value="2026-04-03T07:30:00")
    log.append([moved])
    assert diary.refresh() == 2
    assert "stress-level-again" not in rules(diary, later)
    assert [line.sha256 for line in diary.lines()] == [later, early]
    assert [row.day.day for row in diary.headings(SessionFilter()).rows if row.day] == [3, 2]


def test_another_program_derives_all_again(log: Log, monkeypatch: pytest.MonkeyPatch) -> None:
    diary = Diary(log)
    keep(log, QUIET)
    diary.refresh()
    monkeypatch.setattr(diary_module, "_program", lambda: "tomorrow")
    assert diary.refresh() == 1


def test_sound_outside_every_session_goes_with_the_next_or_the_last(log: Log) -> None:
    diary = Diary(log)
    recording = keep(log, BOTH)
    diary.refresh()
    line = diary.line(recording)
    nobody, wren = (session.id for session in line.sessions)
    assert [entry.start_s for entry in entries_of(line, nobody)] == [0.0, 4.0]
    assert [entry.start_s for entry in entries_of(line, wren)] == [8.0, 12.0, 16.0, 20.0]
    assert entries_of(line, None) == ()


def test_a_recording_without_a_session_is_listed_with_what_wants_a_look(log: Log) -> None:
    diary = Diary(log)
    keep(log, ("x stop session broken", "x wind"))
    diary.refresh()
    (row,) = diary.headings(SessionFilter()).rows
    assert (row.dog, row.counts["sessions"], row.counts["look"]) == (None, 0, 0)
    assert diary.dogs() == ()


def test_what_is_not_there_is_said_so(log: Log) -> None:
    diary = Diary(log)
    assert diary.page("nothing") is None
    for ask in (diary.bring, diary.line):
        with pytest.raises(UnknownTargetError):
            ask("nothing")
