"""With several processes the log comes to the same as with one, whatever becomes of them."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from tests.web.evening import NOW, keep
from voicelog.app import deriving_workers
from voicelog.app.deriving_workers import DerivingWorkers, RowsAhead
from voicelog.app.session_catalog import SessionCatalog
from voicelog.app.share import share_now, start_share
from voicelog.model import Event, Reading
from voicelog.store import CacheRow, Log, StoredRecording

SESSIONS = (
    ("start session bracken", "here level two yelped", "came"),
    ("start session wren", "here level three came", "praised"),
    ("start session bracken", "here came", "end session", "start session wren", "here came"),
)


@pytest.fixture(autouse=True)
def two_processes(monkeypatch: pytest.MonkeyPatch) -> None:
    """As on a machine of two cores, and with less to do than would be worth it."""
    monkeypatch.setattr(deriving_workers, "_cores", lambda: 2)
    monkeypatch.setattr(deriving_workers, "MANY", 2)


@pytest.fixture
def log(tmp_path: Path) -> Iterator[Log]:
    with Log.open(tmp_path / "log", now=lambda: NOW) as log:
        for number in range(9):
            at = datetime(2026, 4, 1, 7, 30) + timedelta(days=number)
            keep(log, SESSIONS[number % len(SESSIONS)], str(number), at=at)
        yield log


def one_process(log: Log, monkeypatch: pytest.MonkeyPatch) -> dict[str, tuple[CacheRow, ...]]:
    """The rows of all recordings, derived here alone."""
    with monkeypatch.context() as patch:
        patch.setattr(deriving_workers, "_cores", lambda: 1)
        SessionCatalog(log).rebuild()
    return rows(log)


def rows(log: Log) -> dict[str, tuple[CacheRow, ...]]:
    return {kept.id: tuple(log.derived_get(kept.id)) for kept in log.recordings()}


def test_many_recordings_come_to_the_same_as_with_one_process(
    log: Log, monkeypatch: pytest.MonkeyPatch
) -> None:
    expected = one_process(log, monkeypatch)
    assert any(row.matters for some in expected.values() for row in some)
    taken: list[bool] = []
    put = SessionCatalog.revalidate

    def watched(self: SessionCatalog, recording: str, ahead: RowsAhead | None = None) -> bool:
        taken.append(ahead is not None)
        return put(self, recording, ahead)

    monkeypatch.setattr(SessionCatalog, "revalidate", watched)
    log.derived_clear()
    told: list[tuple[int, int]] = []
    assert SessionCatalog(log).refresh(progress=lambda *so_far: told.append(so_far)) == 9
    assert rows(log) == expected
    assert told == [(number, 9) for number in range(1, 10)]
    assert any(taken), "another process derived some"


def test_what_changes_meanwhile_is_derived_again(log: Log, monkeypatch: pytest.MonkeyPatch) -> None:
    catalog = SessionCatalog(log)
    first, later = (kept.id for kept in log.recordings()[:2])
    entry = [one.id for one in catalog.log.events(first) if one.event == "utterance"][1]
    take = deriving_workers._DerivedAhead.take

    def slow(self: deriving_workers._DerivedAhead, recording: str) -> RowsAhead | None:
        made = take(self, recording)
        if recording == first:
            words = "here level two came"
            log.append([Reading(id="r", utterance=entry, words=words, by="person", who="Anna")])
        return made

    monkeypatch.setattr(deriving_workers._DerivedAhead, "take", slow)
    catalog.refresh()
    found = rows(log)
    assert "yelped" not in {sign for rep in catalog.line(first).reps for sign in rep.signs}
    monkeypatch.undo()
    assert found == one_process(log, monkeypatch)
    assert later in found


def test_recordings_of_unknown_dogs_are_given_out_while_that_goes_well(log: Log) -> None:
    names = [kept.id for kept in log.recordings()]
    workers = DerivingWorkers(log.folder)
    given: list[str] = []
    try:
        for held in (True, False):
            for _ in range(20):
                workers.note(held=held)
            ahead = workers.ahead(names, lambda due: {name: {None} for name in due})
            given += [name for name in names if ahead(name) is not None]
    finally:
        workers.close()
    assert given == names[1:], "the first time all but the first, the second time none"


def test_sessions_of_one_dog_are_derived_here(log: Log) -> None:
    names = [kept.id for kept in log.recordings()]
    workers = DerivingWorkers(log.folder)
    try:
        ahead = workers.ahead(names, lambda due: {name: {"Bracken"} for name in due})
        assert [ahead(name) for name in names] == [None] * len(names)
    finally:
        workers.close()


def test_a_process_that_is_killed_costs_nothing(log: Log, monkeypatch: pytest.MonkeyPatch) -> None:
    expected = one_process(log, monkeypatch)
    begin = DerivingWorkers._begin

    def deadly(self: DerivingWorkers, many: int) -> bool:
        begun = begin(self, many)
        assert self._pool is not None
        self._pool.submit(os.getpid).result()
        for process in self._pool._processes.values():
            os.kill(process.pid or 0, signal.SIGKILL)
        return begun

    monkeypatch.setattr(DerivingWorkers, "_begin", deadly)
    log.derived_clear()
    assert SessionCatalog(log).refresh() == 9
    assert rows(log) == expected


def test_what_does_not_derive_in_another_process_is_set_aside_here(
    log: Log, monkeypatch: pytest.MonkeyPatch
) -> None:
    bad = log.recordings()[4].id
    with log.writing() as connection:
        connection.exec_driver_sql("DROP TRIGGER IF EXISTS events_stay")
        connection.exec_driver_sql(
            "UPDATE recordings SET started_at = '0001-01-01T00:00:00' WHERE id = ?", (bad,)
        )
    expected = one_process(log, monkeypatch)
    log.derived_clear()
    SessionCatalog(log).refresh()
    assert rows(log) == expected


def test_who_joins_a_share_derives_on_trial_in_other_processes(
    log: Log, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    expected = one_process(log, monkeypatch)
    start_share(log, tmp_path / "share", "Anna")
    share_now(SessionCatalog(log))
    asked: list[str | None] = []
    failures = DerivingWorkers.failures

    def watched(
        self: DerivingWorkers,
        given: Sequence[tuple[StoredRecording, Sequence[Event]]],
        here: deriving_workers.FailureOf,
    ) -> list[str | None]:
        told = failures(self, given, lambda kept, events: "derived here")
        asked.extend(told)
        return told

    monkeypatch.setattr(DerivingWorkers, "failures", watched)
    with Log.open(tmp_path / "other", now=lambda: NOW) as other:
        start_share(other, tmp_path / "share", "Joe")
        share_now(SessionCatalog(other))
        assert asked == [None] * 9
        assert {name: [row.body for row in some] for name, some in rows(other).items()} == {
            name: [row.body for row in some] for name, some in expected.items()
        }
