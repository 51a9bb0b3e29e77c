"""A log's sessions in order of time, derived when stale and cached.

What was derived from a recording is good while nothing that it depends on has changed: its
own events, the program, the grammar, and the same dogs' earlier sessions. The cache can be
thrown away at any time (`rebuild`); only the events are the truth.

To know what is stale no recording is read: the log compares stamps, and marks what follows
a change. So `refresh` on a log in order costs one query, however long the log is.

A recording that does not derive, for whatever reason, is set aside: it has a row with its
reason and no session, and all else goes on. What is to come into the log is derived on trial.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import date, datetime
from itertools import groupby
from typing import NamedTuple

from pydantic import TypeAdapter

from voicelog.analysis.planned_sessions import (
    planned_sessions,
)
from voicelog.analysis.recent_calls import LAST_SESSIONS
from voicelog.analysis.session_digest import (
    SessionDigest,
    by_date,
    decode,
)
from voicelog.app.decoded_bodies import DecodedBodies
from voicelog.app.derivation_memo import DerivationMemo
from voicelog.app.deriving_workers import DerivingWorkers, RowsAhead
from voicelog.app.kept_matters import finish_keeping
from voicelog.app.matter_lists import MatterLists
from voicelog.app.recording_rows import (
    GrammarOf,
    LoggedSession,
    RecordingRows,
    began,
    moment_of,
    program_stamp,
    read_page,
)
from voicelog.model import (
    Event,
    Finding,
    RecordingOutput,
)
from voicelog.report.finding_changes import SessionChange
from voicelog.safety.history import PastSession
from voicelog.store import (
    CacheHeading,
    CacheListing,
    CacheRow,
    Log,
    SessionFilter,
    SetAsideError,
    StoredRecording,
    UnknownTargetError,
    UnreadableRecordingError,
)
from voicelog.store.cache import aside

__all__ = [
    "DerivingProgress",
    "LoggedSession",
    "SessionCatalog",
    "began",
    "ready_catalog",
]

DerivingProgress = Callable[[int, int], None]
"""Is told how many recordings are derived again, and of how many."""


def _unseen(_number: int, _total: int) -> None:
    """Progress that nobody looks at."""


_LINE = TypeAdapter(RecordingOutput)


class _SeenSession(NamedTuple):
    """What was found in a session: of which dog it is, and when it began on the wall."""

    dog: str
    began: datetime | None
    findings: tuple[Finding, ...]


class SessionCatalog:
    """The sessions of one log."""

    def __init__(self, log: Log, grammar_of: GrammarOf | None = None) -> None:
        self._log = log
        self._rows = RecordingRows(log) if grammar_of is None else RecordingRows(log, grammar_of)
        self._processes = None if grammar_of is None else 1
        self._workers: DerivingWorkers | None = None
        self._decoded = DecodedBodies()
        self._memo: tuple[StoredRecording, DerivationMemo] | None = None
        self._noted: list[SessionChange] | None = None
        self._held: dict[str, dict[tuple[str, str], _SeenSession]] = {}
        self._events: tuple[str, str, tuple[Event, ...]] = ("", "", ())

    @property
    def log(self) -> Log:
        """The log whose sessions these are."""
        return self._log

    # --- keeping it in order -------------------------------------------------------------

    def refresh(
        self, dogs: Collection[str] | None = None, progress: DerivingProgress = _unseen
    ) -> int:
        """Derive anew what is stale; how many recordings that was.

        After each, `progress` is told how many are done and how many there are. Each is kept at
        once, so that stopping loses nothing. With some `dogs`, by their names in the log, what only
        the program's own change made stale of others waits until it is asked for.
        """
        rebuilt = 0
        with self.helped() as workers:
            while behind := self.stale(dogs):
                ahead = workers.ahead(behind, self._log.dogs_worked)
                for number, recording in enumerate(behind, start=1):
                    rebuilt += self.revalidate(recording, ahead(recording))
                    progress(number, len(behind))
        if dogs is None:
            finish_keeping(self)
        return rebuilt

    def refresh_new(self, progress: DerivingProgress = _unseen) -> list[str]:
        """Derive what is new or changed, and all else of the dogs in it; which dogs these are.
        What only the program's own change made stale of others waits. `progress` is told as by
        `refresh`."""
        dogs: list[str] = []
        new = self.stale(())
        while new:
            self.refresh(dogs, progress)
            worked = (row.dog for one in new for row in self._log.derived_get(one))
            found = list(dict.fromkeys(dog for dog in worked if dog is not None))
            if set(found) <= set(dogs):
                break
            dogs = list(dict.fromkeys([*dogs, *found]))
        if not self.stale():
            finish_keeping(self)
        return dogs

    def rebuild(self, progress: DerivingProgress = _unseen) -> int:
        """Throw the cache away and derive everything; how many recordings that was. `progress` is
        told as by `refresh`."""
        self._log.derived_clear()
        return self.refresh(progress=progress)

    def stale(self, dogs: Collection[str] | None = None) -> tuple[str, ...]:
        """The recordings that have to be derived anew, oldest first; with `dogs`, as `refresh`."""
        return self._log.stale(program_stamp(), dogs)

    def revalidate(self, recording: str, ahead: RowsAhead | None = None) -> bool:
        """Derive a stale recording, if what it rests on is different at all; whether it was.

        Most corrections change nothing that later sessions are checked against. `ahead` are its
        rows as another process derived them, taken where they still hold.

        Raises:
            UnknownTargetError: there is no such recording.
        """
        if self._rows.good(recording, self._log.derived_get(recording), self._page):
            self._log.derived_is_fresh(recording)
            return False
        held = ahead is not None and self._holds(recording, ahead)
        if ahead is not None and self._workers is not None:
            self._workers.note(held=held)
        if ahead is not None and held:
            self._put(recording, ahead.rows)
        else:
            self.bring(recording)
        return True

    def _holds(self, recording: str, ahead: RowsAhead) -> bool:
        head = ahead.rows[0]
        same = head.stamp == self._rows.stamp(recording)
        return same and self._rows.same_histories(recording, head.moment, ahead.histories)

    @contextmanager
    def helped(self) -> Iterator[DerivingWorkers]:
        """Meanwhile what is to be derived is derived on several cores, where that is much."""
        if self._workers is not None:
            yield self._workers
            return
        self._workers = DerivingWorkers(self._log.folder, self._processes)
        try:
            yield self._workers
        finally:
            self._workers.close()
            self._workers = None

    def bring(self, recording: str) -> None:
        """Derive one recording, or set it aside; later ones of its dogs may go stale by that.

        Raises:
            UnknownTargetError: there is no such recording.
        """
        stamp = self._rows.stamp(recording)
        try:
            kept, events = self._rows.kept(recording), self._log.events(recording)
            self._events = recording, stamp, events
            made = self._rows.made(kept, events, stamp, self.memo(kept))
            rows = [row for row, _ in made]
            for row, value in made:
                self._decoded.put("line" if row.dog is None else "page", row.body, value)
        except (SetAsideError, UnreadableRecordingError) as error:
            known = SetAsideError(error.name, error.why)
            rows = [aside(recording, stamp, known)]
        self._put(recording, rows)

    def _put(self, recording: str, rows: Sequence[CacheRow]) -> None:
        self._note(recording, rows)
        self._log.derived_put(recording, rows)

    @contextmanager
    def noting(self) -> Iterator[list[SessionChange]]:
        """Note which sessions have other findings than before, of those that are derived anew
        meanwhile and had been derived by this program; the list grows as they are. A session that
        is new in its recording, or is no longer there, is in it too where it has findings."""
        before, self._noted = self._noted, []
        try:
            yield self._noted
        finally:
            self._noted = before
            self._held.clear()

    def hold(self, recordings: Iterable[str], gone: Collection[str]) -> None:
        """While changes are noted, keep in mind what was found in these `recordings` (ids) before a
        deletion takes it out of the cache; of sessions that are to be `gone`, by key, nothing."""
        for recording in recordings if self._noted is not None else ():
            seen = self._seen(recording)
            if seen is not None:
                self._held[recording] = {at: one for at, one in seen.items() if at[0] not in gone}

    def refresh_noting(self, progress: DerivingProgress = _unseen) -> list[SessionChange]:
        """Refresh, and note it as `noting` does. `progress` is told as by `refresh`."""
        with self.noting() as noted:
            self.refresh(progress=progress)
        return noted

    def _note(self, recording: str, rows: Sequence[CacheRow]) -> None:
        """Note what is other in the `rows` that a recording is to have, beside those it has."""
        if self._noted is None:
            return
        then = self._held.pop(recording, None)
        then = self._seen(recording) if then is None else then
        if then is None:
            return
        now = self._seen_in(rows)
        for at in dict.fromkeys((*now, *then)):
            page, old = now.get(at), then.get(at)
            found = () if page is None else page.findings
            before = () if old is None else old.findings
            here = page or old
            if found != before and here is not None:
                self._noted.append(SessionChange(at[0], here.dog, here.began, before, found))

    def _seen(self, recording: str) -> dict[tuple[str, str], _SeenSession] | None:
        """What was found in each session of a recording; None where this program never said."""
        known = self._log.derived_get(recording)
        program = program_stamp()
        sessions = [row for row in known if row.dog is not None]
        if not known or any(row.stamp.partition("/")[0] != program for row in sessions):
            return None
        return self._seen_in(sessions)

    def _seen_in(self, rows: Sequence[CacheRow]) -> dict[tuple[str, str], _SeenSession]:
        found = {}
        for row in rows:
            if row.dog is not None:
                page = self._page(row)
                found[row.key, row.dog] = _SeenSession(
                    page.session.dog.name, page.began, page.findings
                )
        return found

    def trial(self, kept: StoredRecording, events: Sequence[Event]) -> None:
        """Derive what is to come into the log, keeping nothing.

        Raises:
            SetAsideError: it does not derive.
        """
        self._rows.made(kept, events, "trial", DerivationMemo())

    def failures(
        self, given: Sequence[tuple[StoredRecording, Sequence[Event]]]
    ) -> list[str | None]:
        """Why each does not derive by itself, whatever else is in the log, so the same on every
        device of a share; None where it does."""
        with self.helped() as workers:
            return workers.failures(given, self._rows.failure)

    def events(self, recording: str, seq: int) -> tuple[Event, ...]:
        """The events of a recording whose newest has that number; those that it was derived of last
        are not read again."""
        of = (recording, f"{program_stamp()}/{seq}")
        if self._events[:2] == of:
            return self._events[2]
        return self._log.events(recording)

    def memo(self, kept: StoredRecording) -> DerivationMemo:
        """What is known of the last recording that was derived, where it is `kept` as it was."""
        if self._memo is None or self._memo[0] != kept:
            self._memo = kept, DerivationMemo()
        return self._memo[1]

    def asides(self) -> dict[str, SetAsideError]:
        """The recordings that are set aside, by id."""
        return self._log.asides()

    # --- reading it ----------------------------------------------------------------------

    def line(self, recording: str) -> RecordingOutput:
        """A recording's part of the contract, as last derived.

        Raises:
            UnknownTargetError: nothing was derived of it.
            SetAsideError: it does not derive.
        """
        head = self._log.derived_row(recording)
        if head is None:
            raise UnknownTargetError("What was derived", recording)
        if "aside" in head.counts:
            raise SetAsideError(head.body, head.digest)
        return self._decoded.get("line", head.body, _LINE.validate_json)

    def lines(self) -> tuple[RecordingOutput, ...]:
        """Every recording's part of the contract, oldest first; not of those set aside."""
        out = self.asides()
        kept = [one for one in self._log.recordings() if one.complete and one.id not in out]
        found = [(one, self.line(one.id)) for one in kept]
        found.sort(key=lambda pair: (moment_of(pair[0], pair[1].started_at), pair[0].id))
        return tuple(line for _, line in found)

    def headings(
        self, wanted: SessionFilter, *, limit: int | None = None, skip: int = 0
    ) -> CacheListing:
        """Sessions as a list shows them, newest first; nothing but the list is read."""
        return self._log.headings(wanted, limit=limit, skip=skip)

    def page(self, session: str) -> LoggedSession | None:
        """The session of that id, or None."""
        row = self._log.derived_row(session)
        return None if row is None else self.page_of(row)

    def page_of(self, row: CacheRow) -> LoggedSession | None:
        """The session of a row, None where the row is of a recording."""
        return None if row.dog is None else self._page(row)

    def _page(self, row: CacheRow) -> LoggedSession:
        return self._decoded.get("page", row.body, read_page)

    def before(self, heading: CacheHeading) -> LoggedSession | None:
        """The dog's session before the one of that heading, or None."""
        row = self._log.derived_before(heading)
        return None if row is None else self._page(row)

    def traces(self, dog: str) -> tuple[PastSession, ...]:
        """What a dog's sessions leave behind for one that begins now, oldest first."""
        return tuple(self._rows.traces(dog, datetime.max, ""))

    def pages(self, dog: str) -> tuple[LoggedSession, ...]:
        """A dog's sessions, oldest first."""
        return tuple(read_page(row.body) for row in self._log.derived_of_dog(dog))

    def dogs(self) -> tuple[str, ...]:
        """The dogs that have sessions, by first appearance."""
        return self._log.listed_dogs()

    def session_digests(self, dog: str) -> tuple[SessionDigest, ...]:
        """A dog's sessions in short, oldest first; much quicker than its pages."""
        return by_date(map(decode, self._log.digests(dog)))

    def matters(self, today: date | None = None, only: str | None = None) -> MatterLists:
        """The list of open matters of every dog that has one, or of `only` that one, each made
        when it is asked for; `today` as in `open_matters`."""
        return MatterLists(self._log, today, only)

    def planned(self, only: str | None = None) -> dict[str, tuple[SessionDigest, ...]]:
        """The sessions in short of every dog, or of `only` that one, that hold those its plan is
        made from (`planned_sessions`), found without reading the others."""
        keys: dict[str, None] = {}
        for _, rows in groupby(self._log.counts(only), key=lambda row: row[1]):
            keys |= dict.fromkeys(_planned([(key, dated, of) for key, _, dated, of in rows]))
        found: dict[str, list[SessionDigest]] = {}
        for session_digest in map(decode, self._log.digests_of(tuple(keys))):
            found.setdefault(session_digest.dog, []).append(session_digest)
        return {dog: planned_sessions(some) for dog, some in found.items()}


def _planned(rows: Sequence[tuple[str, bool, Mapping[str, int]]]) -> Iterator[str]:
    """The keys of a dog's rows, by time, of the sessions that its plan is made from, and some more:
    those without a date come first there, wherever they stand here."""
    dated = [key for key, is_dated, _ in rows if is_dated]
    yield from dated[-LAST_SESSIONS:]
    if len(dated) < LAST_SESSIONS:
        yield from (key for key, is_dated, _ in rows if not is_dated)
    ordered = sorted(rows, key=lambda row: row[1])
    last: dict[int, str] = {}
    lowest: dict[int, tuple[int, str]] = {}
    felt: list[str] = []
    skin: list[str] = []
    bad_skin: list[str] = []
    for key, _, counts in ordered:
        unit = counts.get("unit", 0)
        last[unit] = key
        if (level := counts.get("strong_at")) is not None:
            known = lowest.get(unit)
            if known is None or level <= known[0]:
                lowest[unit] = level, key
        if "felt" in counts:
            felt = [key]
        if "skin" in counts:
            skin = [key]
        if "bad_skin" in counts:
            bad_skin = [key]
    yield from last.values()
    yield from (key for _, key in lowest.values())
    yield from felt
    yield from skin
    yield from bad_skin


def ready_catalog(log: Log) -> SessionCatalog:
    """The sessions of a log, with what was stale derived anew."""
    catalog = SessionCatalog(log)
    catalog.refresh()
    return catalog
