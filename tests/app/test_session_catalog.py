"""The diary derives what is stale, and nothing else, in the order of time."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import pytest

from tests.web.evening import NOW, keep
from voicelog.app import recording_rows, session_catalog
from voicelog.app.session_catalog import SessionCatalog, ready_catalog
from voicelog.app.session_entries import entries_of
from voicelog.model import Action, Dog, Reading, Roster
from voicelog.store import Log, SessionFilter, UnknownTargetError

YELPED = ("start session bracken", "here level two yelped", "came")
QUIET = ("start session bracken", "here level two came", "praised")
BOTH = ("x wind", "here level one came", "start session wren", "here came", "end session", "x wind")


@pytest.fixture
def log(tmp_path: Path) -> Iterator[Log]:
    with Log.open(tmp_path, now=lambda: NOW) as log:
        yield log


def day(number: int) -> datetime:
    return datetime(2026, 4, number, 7, 30)


def rules(session_catalog: SessionCatalog, recording: str) -> set[str]:
    return {finding.rule for finding in session_catalog.line(recording).findings}


def test_only_what_changed_is_derived_again(log: Log) -> None:
    session_catalog = SessionCatalog(log)
    assert session_catalog.refresh() == 0
    first = keep(log, QUIET, "first", at=day(1))
    keep(log, QUIET, "second", at=day(2))
    told: list[tuple[int, int]] = []
    assert session_catalog.refresh(progress=lambda *so_far: told.append(so_far)) == 2
    assert told == [(1, 2), (2, 2)]
    assert session_catalog.refresh() == 0
    entry = session_catalog.line(first).entries[1].id
    log.append([Action(id="c", action="confirm", target=entry, who="Anna")])
    assert session_catalog.stale() == (first,)
    assert session_catalog.refresh() == 1  # nothing that later sessions depend on is different


def test_a_collar_worn_that_morning_leaves_the_calls_of_the_evening_unknown(log: Log) -> None:
    session_catalog, plain = SessionCatalog(log), Roster(dogs=(Dog(name="Wren"),))
    told = ("start session wren", "here came")
    times = (day(1), day(1).replace(hour=18), day(2))
    kept = [keep(log, told, str(time), at=time, roster=plain) for time in times]
    session_catalog.refresh()

    def modes() -> list[str]:
        return [rep.mode for line in map(session_catalog.line, kept) for rep in line.reps]

    assert modes() == ["none", "none", "none"]
    entry = session_catalog.line(kept[0]).entries[0].id
    words = "start session wren collar fitted"
    log.append([Reading(id="r", utterance=entry, words=words, by="person", who="Anna")])
    session_catalog.refresh()
    assert modes() == ["unknown", "unknown", "none"]


def test_a_strong_sign_found_later_reaches_the_sessions_after_it(log: Log) -> None:
    session_catalog = SessionCatalog(log)
    first = keep(log, QUIET, "first", at=day(1))
    second = keep(log, QUIET, "second", at=day(2))
    session_catalog.refresh()
    assert "stress-level-again" not in rules(session_catalog, second)
    words = "here level two yelped came"
    entry = session_catalog.line(first).entries[1].id
    log.append([Reading(id="r", utterance=entry, words=words, by="person", who="Anna")])
    session_catalog.bring(first)
    assert session_catalog.stale() == (second,)
    assert [row.stale for row in session_catalog.headings(SessionFilter()).rows] == [True, False]
    assert session_catalog.refresh() == 1
    assert "stress-level-again" in rules(session_catalog, second)


def test_what_went_stale_for_nothing_is_good_again_without_being_derived(
    log: Log, monkeypatch: pytest.MonkeyPatch
) -> None:
    session_catalog = SessionCatalog(log)
    days = [keep(log, QUIET, str(number), at=day(number)) for number in range(1, 25)]
    session_catalog.refresh()
    entry = session_catalog.line(days[0]).entries[1].id
    words = "here level one came"  # what was answered on the first of many days
    log.append([Reading(id="r", utterance=entry, words=words, by="person", who="Anna")])
    session_catalog.bring(days[0])
    assert session_catalog.stale() == tuple(days[1:])
    derived: list[str] = []
    monkeypatch.setattr(SessionCatalog, "bring", lambda self, recording: derived.append(recording))
    assert not session_catalog.revalidate(days[-1])
    assert derived == []
    assert session_catalog.revalidate(days[1])
    assert derived == [days[1]]
    assert session_catalog.stale() == tuple(days[1:-1])


def test_a_recording_that_comes_in_late_or_moves_takes_its_place(log: Log) -> None:
    session_catalog = SessionCatalog(log)
    later = keep(log, QUIET, "later", at=day(2))
    session_catalog.refresh()
    early = keep(log, YELPED, "early", at=day(1))
    assert session_catalog.refresh() == 2
    assert "stress-level-again" in rules(session_catalog, later)
    entry = session_catalog.line(early).entries[0].id
    moved = Action(id="m", action="clock", target=entry, value="2026-04-03T07:30:00")
    log.append([moved])
    assert session_catalog.refresh() == 2
    assert "stress-level-again" not in rules(session_catalog, later)
    assert [line.sha256 for line in session_catalog.lines()] == [later, early]
    assert [row.day.day for row in session_catalog.headings(SessionFilter()).rows if row.day] == [
        3,
        2,
    ]


def _become(monkeypatch: pytest.MonkeyPatch, program: str) -> None:
    """From now on another program derives."""
    for module in (recording_rows, session_catalog):
        monkeypatch.setattr(module, "program_stamp", lambda: program)


def test_another_program_derives_all_again(log: Log, monkeypatch: pytest.MonkeyPatch) -> None:
    session_catalog = SessionCatalog(log)
    keep(log, QUIET)
    session_catalog.refresh()
    _become(monkeypatch, "tomorrow")
    assert session_catalog.refresh() == 1


def test_sound_outside_every_session_goes_with_the_next_or_the_last(log: Log) -> None:
    session_catalog = SessionCatalog(log)
    recording = keep(log, BOTH)
    session_catalog.refresh()
    line = session_catalog.line(recording)
    nobody, wren = (session.id for session in line.sessions)
    assert [entry.start_s for entry in entries_of(line, nobody)] == [0.0, 4.0]
    assert [entry.start_s for entry in entries_of(line, wren)] == [8.0, 12.0, 16.0, 20.0]
    assert entries_of(line, None) == ()


def test_a_recording_without_a_session_is_listed_with_what_wants_a_look(log: Log) -> None:
    session_catalog = SessionCatalog(log)
    keep(log, ("x stop session broken", "x wind"))
    session_catalog.refresh()
    (row,) = session_catalog.headings(SessionFilter()).rows
    assert (row.dog, row.counts["sessions"], row.counts["look"]) == (None, 0, 0)
    assert session_catalog.dogs() == ()


def test_what_is_not_there_is_said_so(log: Log) -> None:
    session_catalog = SessionCatalog(log)
    assert session_catalog.page("nothing") is None
    for ask in (session_catalog.bring, session_catalog.line):
        with pytest.raises(UnknownTargetError):
            ask("nothing")


def test_two_spellings_of_a_name_are_one_dog(log: Log) -> None:
    """Whatever two laptops called a dog, its sessions and its open matters stand together."""
    for number, name in enumerate(("Bracken", "BRACKEN"), start=1):
        keep(log, YELPED, name, at=day(number), roster=Roster(dogs=(Dog(name=name),)))
        log.put_dog(Dog(name=name))
    catalog = ready_catalog(log)
    for name in ("BRACKEN", "Bracken"):
        log.put_dog(Dog(name=name))
        catalog.refresh()
        assert catalog.dogs() == (name,)
        assert [len(catalog.pages(name)), len(catalog.matters()[name])] == [2, 2]


def test_after_a_new_version_the_dog_that_is_asked_for_comes_first(
    log: Log, monkeypatch: pytest.MonkeyPatch
) -> None:
    catalog = SessionCatalog(log)
    wren = [keep(log, BOTH, "wren", at=day(1)), keep(log, ("start session wren",), "w", at=day(2))]
    bracken = [keep(log, QUIET, str(number), at=day(number)) for number in range(3, 6)]
    nothing = keep(log, ("x wind",), "nothing", at=day(6))
    catalog.refresh()
    _become(monkeypatch, "newer")
    assert set(catalog.stale()) == {*wren, *bracken, nothing}
    assert set(catalog.stale(["Wren"])) == {*wren, nothing}
    entry = catalog.line(bracken[0]).entries[1].id
    log.append([Action(id="m", action="move", target=entry, value="Wren", who="Anna")])
    assert set(catalog.stale(["Wren"])) == {*wren, nothing, bracken[0]}, "what a person changed"
    told: list[tuple[int, int]] = []
    assert catalog.refresh(["Wren"], lambda number, total: told.append((number, total))) == 4
    assert told[:4] == [(number, 4) for number in range(1, 5)]
    assert set(bracken[1:]) <= set(catalog.stale())
    catalog.refresh()
    assert catalog.stale() == ()
