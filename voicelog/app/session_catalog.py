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

import hashlib
import json
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import date, datetime, timedelta
from functools import lru_cache
from itertools import chain, groupby
from typing import NamedTuple
from zlib import crc32

from pydantic import TypeAdapter
from sqlalchemy.exc import SQLAlchemyError

from voicelog import __version__
from voicelog.analysis.open_matters import OpenMatter, open_matters
from voicelog.analysis.planned_sessions import (
    felt_vibrate,
    lowest_strong_level,
    planned_sessions,
)
from voicelog.analysis.recent_calls import LAST_SESSIONS
from voicelog.analysis.rep_questions import rep_questions
from voicelog.analysis.session_digest import (
    DIGEST_FORMAT,
    SessionDigest,
    by_date,
    decode,
    digest_session,
    encode,
)
from voicelog.app.body_text import recording_text, session_text
from voicelog.app.decoded_bodies import DecodedBodies
from voicelog.app.derivation_memo import DerivationMemo
from voicelog.app.derive import Derivation, derive
from voicelog.app.grammars import grammar_of
from voicelog.app.kept_matters import finish_keeping
from voicelog.app.session_entries import entries_of
from voicelog.app.typed_lines import TYPED
from voicelog.grammar.data_folders import data_folder
from voicelog.grammar.grammar import Grammar
from voicelog.model import (
    CONTRACT_FORMATS,
    EntryOutput,
    Event,
    Finding,
    FrozenModel,
    MatterEvent,
    RecordingOutput,
    Session,
    SessionMatter,
    Severity,
)
from voicelog.model.names import name_key
from voicelog.report.finding_changes import SessionChange
from voicelog.safety.history import PastSession, history_after, past_session
from voicelog.session.entries import recording_start
from voicelog.store import (
    CacheHeading,
    CacheListing,
    CacheRow,
    Log,
    LogError,
    SessionFilter,
    SetAsideError,
    StoredRecording,
    UnknownTargetError,
    UnreadableRecordingError,
)
from voicelog.store.cache import aside
from voicelog.store.set_aside import reason
from voicelog.store.tombstones import dog_id

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


GrammarOf = Callable[[StoredRecording], Grammar]
_COUNTS = 5
"""Raised where what a row counts, or leaves behind, is another thing than before."""
_MOST_TRACES = 5000
"""Traces of sessions that are kept as values."""
_WORST: tuple[Severity, ...] = ("stop", "caution", "remark")
_SEARCHED = frozenset({"drill", "location", "handler", "distraction", "distraction_source"})


class LoggedSession(FrozenModel):
    """One session of the log, with its findings and when it began."""

    session: Session
    findings: tuple[Finding, ...]
    began: datetime | None
    past: str = ""
    """Stands for the history that the findings rest on."""


_LINE = TypeAdapter(RecordingOutput)
_LOGGED_SESSION = TypeAdapter(LoggedSession)
_MATTERS = TypeAdapter(list[tuple[SessionMatter, ...]])
_PAST_SESSION = TypeAdapter(PastSession)


def began(line: RecordingOutput, at_s: float = 0.0) -> datetime | None:
    """The wall clock at a moment of a recording, where it is known."""
    return line.started_at + timedelta(seconds=at_s) if line.started_at else None


class _SeenSession(NamedTuple):
    """What was found in a session: of which dog it is, and when it began on the wall."""

    dog: str
    began: datetime | None
    findings: tuple[Finding, ...]


class SessionCatalog:
    """The sessions of one log."""

    def __init__(self, log: Log, grammar_of: GrammarOf = grammar_of) -> None:
        self._log = log
        self._grammar_of = grammar_of
        self._decoded = DecodedBodies()
        self._memo: tuple[StoredRecording, DerivationMemo] | None = None
        self._noted: list[SessionChange] | None = None
        self._held: dict[str, dict[tuple[str, str], _SeenSession]] = {}
        self._known_traces: dict[str, PastSession] = {}
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
        while behind := self.stale(dogs):
            for number, recording in enumerate(behind, start=1):
                rebuilt += self.revalidate(recording)
                progress(number, len(behind))
        if dogs is None:
            finish_keeping(self)
        return rebuilt

    def rebuild(self, progress: DerivingProgress = _unseen) -> int:
        """Throw the cache away and derive everything; how many recordings that was. `progress` is
        told as by `refresh`."""
        self._log.derived_clear()
        return self.refresh(progress=progress)

    def stale(self, dogs: Collection[str] | None = None) -> tuple[str, ...]:
        """The recordings that have to be derived anew, oldest first; with `dogs`, as `refresh`."""
        return self._log.stale(_program(), dogs)

    def revalidate(self, recording: str) -> bool:
        """Derive a stale recording, if what it rests on is different at all; whether it was.

        Most corrections change nothing that later sessions are checked against.

        Raises:
            UnknownTargetError: there is no such recording.
        """
        stamp = self._stamp(recording)
        rows = self._log.derived_get(recording)
        head = next((row for row in rows if row.key == recording), None)
        dogs = [row.dog for row in rows if row.dog is not None]
        good = head is not None and head.stamp == stamp and len(set(dogs)) == len(dogs)
        for row in rows:
            if good and head is not None and row.dog is not None:
                page = self._page(row)
                traces = self._traces(row.dog, head.moment, recording)
                good = page.past == _past(traces, page.began)
        if not good:
            self.bring(recording)
            return True
        self._log.derived_is_fresh(recording)
        return False

    def bring(self, recording: str) -> None:
        """Derive one recording, or set it aside; later ones of its dogs may go stale by that.

        Raises:
            UnknownTargetError: there is no such recording.
        """
        stamp = self._stamp(recording)
        try:
            kept, events = self._kept(recording), self._log.events(recording)
            self._events = recording, stamp, events
            made = self._derived(kept, events, stamp, self.memo(kept))
            rows = [row for row, _ in made]
            for row, value in made:
                self._decoded.put("line" if row.dog is None else "page", row.body, value)
        except (SetAsideError, UnreadableRecordingError) as error:
            known = SetAsideError(error.name, error.why)
            rows = [aside(recording, stamp, known)]
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
        program = _program()
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
        self._derived(kept, events, "trial", DerivationMemo())

    def trial_alone(self, kept: StoredRecording, events: Sequence[Event]) -> None:
        """The same by itself, whatever else is in the log: the same on every device of a share.

        Raises:
            SetAsideError: it does not derive.
        """
        self._derived(kept, events, "trial", DerivationMemo(), alone=True)

    def events(self, recording: str, seq: int) -> tuple[Event, ...]:
        """The events of a recording whose newest has that number; those that it was derived of last
        are not read again."""
        of = (recording, f"{_program()}/{seq}")
        if self._events[:2] == of:
            return self._events[2]
        return self._log.events(recording)

    def memo(self, kept: StoredRecording) -> DerivationMemo:
        """What is known of the last recording that was derived, where it is `kept` as it was."""
        if self._memo is None or self._memo[0] != kept:
            self._memo = kept, DerivationMemo()
        return self._memo[1]

    def _derived(
        self,
        kept: StoredRecording,
        events: Sequence[Event],
        stamp: str,
        memo: DerivationMemo,
        *,
        alone: bool = False,
    ) -> list[tuple[CacheRow, RecordingOutput | LoggedSession]]:
        """The rows of a recording, each with what it holds; `alone`: without other sessions and
        with the names as they are in it. Raises SetAsideError when it does not derive."""
        pasts: dict[str, list[PastSession]] = {}
        try:
            if not alone:
                kept = kept.spelt(self._log.spellings())
            moment = _moment(kept, recording_start(events, kept.started_at))

            def past(dog: str) -> list[PastSession]:
                pasts[dog] = [] if alone else self._traces(dog, moment, kept.id)
                return pasts[dog]

            whole = derive(kept, events, self._grammar_of(kept), past, memo)
            return list(_rows(kept, whole, stamp, pasts))
        except (LogError, SQLAlchemyError, MemoryError):  # no fault of the recording
            raise
        except Exception as error:  # whatever it is, it must not cost the rest of the log
            raise SetAsideError(kept.file_name or kept.id[:12], reason(error)) from error

    def asides(self) -> dict[str, SetAsideError]:
        """The recordings that are set aside, by id."""
        return self._log.asides()

    def _kept(self, recording: str) -> StoredRecording:
        kept = self._log.recording(recording)
        if kept is None:
            raise UnknownTargetError("What is to be derived", recording)
        return kept

    def _stamp(self, recording: str) -> str:
        return f"{_program()}/{self._log.event_seq(recording)}"

    def _traces(self, dog: str, moment: datetime, but: str) -> list[PastSession]:
        traces = self._log.traces(dog, before=moment, but=but)
        if len(self._known_traces) > _MOST_TRACES:
            self._known_traces.clear()
        for text in traces:
            if text not in self._known_traces:
                self._known_traces[text] = _PAST_SESSION.validate_json(text)
        return [self._known_traces[text] for text in traces]

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
        found.sort(key=lambda pair: (_moment(pair[0], pair[1].started_at), pair[0].id))
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
        return self._decoded.get("page", row.body, _LOGGED_SESSION.validate_json)

    def before(self, heading: CacheHeading) -> LoggedSession | None:
        """The dog's session before the one of that heading, or None."""
        row = self._log.derived_before(heading)
        return None if row is None else self._page(row)

    def traces(self, dog: str) -> tuple[PastSession, ...]:
        """What a dog's sessions leave behind for one that begins now, oldest first."""
        return tuple(self._traces(dog, datetime.max, ""))

    def pages(self, dog: str) -> tuple[LoggedSession, ...]:
        """A dog's sessions, oldest first."""
        return tuple(
            _LOGGED_SESSION.validate_json(row.body) for row in self._log.derived_of_dog(dog)
        )

    def dogs(self) -> tuple[str, ...]:
        """The dogs that have sessions, by first appearance."""
        return self._log.listed_dogs()

    def session_digests(self, dog: str) -> tuple[SessionDigest, ...]:
        """A dog's sessions in short, oldest first; much quicker than its pages."""
        return by_date(map(decode, self._log.digests(dog)))

    def matters(
        self, today: date | None = None, only: str | None = None
    ) -> dict[str, tuple[OpenMatter, ...]]:
        """The list of open matters of every dog that has one, or of `only` that one, whatever the
        case of its letters; `today` as in `open_matters`.

        A dog is named as its sessions name it, else as the roster does; of a dog that neither
        knows only the hash of its name is left, which stands for it.
        """
        left: dict[str, list[SessionMatter]] = {}
        texts = self._log.session_matters()
        for matter in chain.from_iterable(_MATTERS.validate_json(f"[{','.join(texts)}]")):
            left.setdefault(matter.dog, []).append(matter)
        events = self._log.matter_events()
        deeds = [one for one in events if one.do != "keep"]
        kept: dict[str, list[MatterEvent]] = {}
        for one in events:
            if one.do == "keep":
                kept.setdefault(one.dog, []).append(one)
        roster = [dog.name for dog in self._log.roster().dogs] if kept else []
        names = {dog_id(name): name for name in (*roster, *(self.dogs() if kept else ()), *left)}
        dogs = dict.fromkeys([*left, *(names.get(key, key) for key in kept)])
        found = {}
        for dog in dogs:
            if only is not None and name_key(dog) != name_key(only):
                continue
            own = kept.get(dog_id(dog), kept.get(dog, []))
            found[dog] = open_matters(left.get(dog, ()), [*deeds, *own], today)
        return {dog: some for dog, some in found.items() if some}

    def planned(self) -> dict[str, tuple[SessionDigest, ...]]:
        """The sessions in short of every dog that hold those its plan is made from
        (`planned_sessions`), found without reading the others."""
        keys: dict[str, None] = {}
        for _, rows in groupby(self._log.counts(), key=lambda row: row[1]):
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
    yield from last.values()
    yield from (key for _, key in lowest.values())
    yield from felt
    yield from skin


def _past(traces: Sequence[PastSession], at: datetime | None) -> str:
    history = history_after(traces, at)
    return hashlib.sha256(history.model_dump_json().encode()).hexdigest()[:24]


def _rows(
    kept: StoredRecording, whole: Derivation, stamp: str, pasts: Mapping[str, Sequence[PastSession]]
) -> Iterator[tuple[CacheRow, RecordingOutput | LoggedSession]]:
    """The recording's own row, then one for each session, each with what its text holds."""
    line = whole.line
    loose = [entry for entry in line.entries if entry.session is None]
    known = {(session.id, session.dog.name) for session in whole.sessions}
    own_row = CacheRow(
        key=kept.id,
        recording=kept.id,
        stamp=stamp,
        day=line.started_at.date() if line.started_at else None,
        moment=_moment(kept, line.started_at),
        counts={"sessions": len(line.sessions), "reps": 0, "look": _to_check(loose)},
        words=kept.file_name.casefold(),
        matters=_encoded(one for one in whole.matters if (one.session, one.dog) not in known),
        body=recording_text(line),
    )
    yield own_row, line
    for session in whole.sessions:
        start = began(line, session.start_s)
        found = tuple(f for f in line.findings if f.session == session.id)
        own = [
            one for one in whole.matters if (one.session, one.dog) == (session.id, session.dog.name)
        ]
        short = digest_session(session, found, start, own, whole.doubtful)
        page = LoggedSession(
            session=session,
            findings=found,
            began=start,
            past=_past(pasts[session.dog.name], start),
        )
        here = entries_of(line, session.id)
        standing = {finding.severity for finding in found if not finding.struck}
        row = CacheRow(
            key=session.id,
            recording=kept.id,
            stamp=stamp,
            dog=session.dog.name,
            day=start.date() if start else None,
            moment=_moment(kept, line.started_at) + timedelta(seconds=session.start_s),
            worst=next((severity for severity in _WORST if severity in standing), None),
            counts={
                "reps": sum(not rep.void for rep in session.reps),
                "reps_to_check": sum(rep.doubtful and not rep.void for rep in session.reps),
                "void_reps": sum(rep.void for rep in session.reps),
                "look": _to_check(here) + len(rep_questions(session)),
                "unread": _unread(line, here),
                **_strange(whole, here),
                **_told(short),
            },
            words=_words(kept, session),
            trace=_trace(start, session, short, whole.doubtful),
            digest=encode(short),
            matters=_encoded(own),
            body=session_text(page, session, found),
        )
        yield row, page


def _trace(
    start: datetime | None, session: Session, short: SessionDigest, doubtful: frozenset[str]
) -> str:
    own = doubtful.intersection(session.entries)
    return past_session(start, session, short.reps, own).model_dump_json()


def _encoded(matters: Iterable[SessionMatter]) -> str:
    found = [one.model_dump(mode="json", exclude_defaults=True) for one in matters]
    return json.dumps(found, separators=(",", ":"), ensure_ascii=False) if found else ""


def _told(short: SessionDigest) -> dict[str, int]:
    """A number for the transmitter, the lowest level with a strong sign, and whether one showed on
    vibrate, where any did; whether it was said how the skin is."""
    told = {"unit": crc32(short.transmitter.model_dump_json().encode())}
    if (level := lowest_strong_level(short)) is not None:
        told["strong_at"] = level
    told |= {} if short.skin is None else {"skin": 1}
    return told | ({"felt": 1} if felt_vibrate(short) else {})


def _unread(line: RecordingOutput, entries: Sequence[EntryOutput]) -> int:
    """How many typed lines of a session, whose `entries` these are, were not understood."""
    if line.listeners != (TYPED,):
        return 0
    return sum(entry.status == "rejected" and not entry.voided for entry in entries)


def _strange(whole: Derivation, entries: Sequence[EntryOutput]) -> dict[str, int]:
    """How many of the `entries` have a name that was heard and is not known, where any has."""
    named = {one.id for one in whole.entries if one.stranger and not one.voided}
    count = sum(entry.id in named for entry in entries) if named else 0
    return {"strange": count} if count else {}


def _to_check(entries: Sequence[EntryOutput]) -> int:
    return sum(entry.status == "doubtful" and not entry.voided for entry in entries)


def _words(kept: StoredRecording, session: Session) -> str:
    """What a search finds a session by."""
    said = [c.value for c in session.conditions if c.name in _SEARCHED]
    said += [sign for rep in session.reps for sign in rep.signs]
    said += [rep.outcome for rep in session.reps if rep.outcome]
    return " ".join(dict.fromkeys([session.dog.name, *said, kept.file_name])).casefold()


def _moment(kept: StoredRecording, started_at: datetime | None) -> datetime:
    return (started_at or kept.added_at).replace(tzinfo=None)


@lru_cache(maxsize=1)
def _program() -> str:
    """A stamp of what deriving depends on beside the log: the program and its grammars."""
    formats = f"{__version__} {CONTRACT_FORMATS} {DIGEST_FORMAT} {_COUNTS}"
    digest = hashlib.sha256(formats.encode())
    for path in sorted(data_folder("grammars").rglob("*.jsgf")):
        digest.update(path.read_bytes())
    return digest.hexdigest()[:24]


def ready_catalog(log: Log) -> SessionCatalog:
    """The sessions of a log, with what was stale derived anew."""
    catalog = SessionCatalog(log)
    catalog.refresh()
    return catalog
