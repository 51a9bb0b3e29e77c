"""The rows that a log's cache has of a recording: derived here, written elsewhere.

What is made follows from the recording, the program with its grammars, and what the same dogs'
earlier sessions left behind, so it is the same in whichever process it is made.

A recording that does not derive, for whatever reason, is set aside: an error says so, and all else
goes on.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from functools import lru_cache
from zlib import crc32

from pydantic import TypeAdapter, ValidationError
from sqlalchemy.exc import SQLAlchemyError

from voicelog import __version__
from voicelog.analysis.planned_sessions import felt_vibrate, lowest_strong_level
from voicelog.analysis.rep_questions import rep_questions
from voicelog.analysis.session_digest import (
    DIGEST_FORMAT,
    SessionDigest,
    digest_session,
    encode,
    skin_was_bad,
)
from voicelog.app.body_text import recording_text, session_text
from voicelog.app.derivation_memo import DerivationMemo
from voicelog.app.derive import Derivation, derive
from voicelog.app.grammars import grammar_of
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
    RecordingOutput,
    Session,
    SessionMatter,
    Severity,
)
from voicelog.safety.history import PastSession, history_after, past_session
from voicelog.session.entries import recording_start
from voicelog.store import (
    CacheRow,
    Log,
    LogError,
    SetAsideError,
    StoredRecording,
    UnknownTargetError,
)
from voicelog.store.set_aside import reason

__all__ = [
    "GrammarOf",
    "LoggedSession",
    "RecordingRows",
    "began",
    "moment_of",
    "past_stamp",
    "program_stamp",
    "read_page",
]

GrammarOf = Callable[[StoredRecording], Grammar]
_COUNTS = 6
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


_LOGGED_SESSION = TypeAdapter(LoggedSession)
_PAST_SESSION = TypeAdapter(PastSession)


def read_page(body: str) -> LoggedSession:
    """The session that a row's text holds."""
    return _LOGGED_SESSION.validate_json(body)


def began(line: RecordingOutput, at_s: float = 0.0) -> datetime | None:
    """The wall clock at a moment of a recording, where it is known."""
    return line.started_at + timedelta(seconds=at_s) if line.started_at else None


class RecordingRows:
    """Makes the rows of a log's recordings; writes nothing."""

    def __init__(self, log: Log, grammar_of: GrammarOf = grammar_of) -> None:
        self._log = log
        self._grammar_of = grammar_of
        self._known_traces: dict[str, PastSession | None] = {}

    def kept(self, recording: str) -> StoredRecording:
        """The recording as it is kept.

        Raises:
            UnknownTargetError: there is no such recording.
            UnreadableRecordingError: its row is not as this program knows it.
        """
        kept = self._log.recording(recording)
        if kept is None:
            raise UnknownTargetError("What is to be derived", recording)
        return kept

    def stamp(self, recording: str) -> str:
        """What its rows are of: the program, and the newest of its events."""
        return f"{program_stamp()}/{self._log.event_seq(recording)}"

    def made(
        self,
        kept: StoredRecording,
        events: Sequence[Event],
        stamp: str,
        memo: DerivationMemo,
        *,
        alone: bool = False,
    ) -> list[tuple[CacheRow, RecordingOutput | LoggedSession]]:
        """The rows of a recording, each with what its text holds; `alone`: without other sessions
        and with the names as they are in it.

        Raises:
            SetAsideError: it does not derive.
        """
        pasts: dict[str, list[PastSession]] = {}
        try:
            if not alone:
                kept = kept.spelt(self._log.spellings())
            moment = moment_of(kept, recording_start(events, kept.started_at))

            def past(dog: str) -> list[PastSession]:
                pasts[dog] = [] if alone else self.traces(dog, moment, kept.id)
                return pasts[dog]

            whole = derive(kept, events, self._grammar_of(kept), past, memo)
            return list(_rows(kept, whole, stamp, pasts))
        except (LogError, SQLAlchemyError, MemoryError):  # no fault of the recording
            raise
        except Exception as error:  # whatever it is, it must not cost the rest of the log
            raise SetAsideError(kept.file_name or kept.id[:12], reason(error)) from error

    def failure(self, kept: StoredRecording, events: Sequence[Event]) -> str | None:
        """Why it does not derive by itself, whatever else is in the log, so the same on every
        device of a share; None where it does."""
        try:
            self.made(kept, events, "trial", DerivationMemo(), alone=True)
        except SetAsideError as error:
            return error.why
        return None

    def good(
        self,
        recording: str,
        rows: Sequence[CacheRow],
        page_of: Callable[[CacheRow], LoggedSession] = lambda row: read_page(row.body),
    ) -> bool:
        """Whether these `rows` of a recording still hold: its events are the same, and the history
        before each of its sessions."""
        head = next((row for row in rows if row.key == recording), None)
        dogs = [row.dog for row in rows if row.dog is not None]
        if head is None or head.stamp != self.stamp(recording) or len(set(dogs)) < len(dogs):
            return False
        pages = (page_of(row) for row in rows if row.dog is not None)
        told = ((page.session.dog.name, page.began, page.past) for page in pages)
        return self.same_histories(recording, head.moment, told)

    def same_histories(
        self,
        recording: str,
        moment: datetime,
        histories: Iterable[tuple[str, datetime | None, str]],
    ) -> bool:
        """Whether the sessions of a recording of that moment are checked against the same as told:
        of each its dog, when it began, and what stands for the history before it."""
        return all(
            past == past_stamp(self.traces(dog, moment, recording), began)
            for dog, began, past in histories
        )

    def traces(self, dog: str, moment: datetime, but: str) -> list[PastSession]:
        """What a dog's sessions before a moment left behind, oldest first, but those of one
        recording. One that another program left and this one cannot read is passed over: its
        session is derived anew, and then what comes after it once more."""
        traces = self._log.traces(dog, before=moment, but=but)
        if len(self._known_traces) > _MOST_TRACES:
            self._known_traces.clear()
        for text in traces:
            if text not in self._known_traces:
                self._known_traces[text] = _read_trace(text)
        found = (self._known_traces[text] for text in traces)
        return [one for one in found if one is not None]


def _read_trace(text: str) -> PastSession | None:
    try:
        return _PAST_SESSION.validate_json(text)
    except ValidationError:
        return None


def past_stamp(traces: Sequence[PastSession], at: datetime | None) -> str:
    """Stands for what a session that begins then is checked against."""
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
        moment=moment_of(kept, line.started_at),
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
            past=past_stamp(pasts[session.dog.name], start),
        )
        here = entries_of(line, session.id)
        standing = {finding.severity for finding in found if not finding.struck}
        row = CacheRow(
            key=session.id,
            recording=kept.id,
            stamp=stamp,
            dog=session.dog.name,
            day=start.date() if start else None,
            moment=moment_of(kept, line.started_at) + timedelta(seconds=session.start_s),
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
    vibrate, where any did; whether it was said how the skin is, and whether it was red or sore."""
    told = {"unit": crc32(short.transmitter.model_dump_json().encode())}
    if (level := lowest_strong_level(short)) is not None:
        told["strong_at"] = level
    told |= {} if short.skin is None else {"skin": 1}
    told |= {} if skin_was_bad(short) is None else {"bad_skin": 1}
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


def moment_of(kept: StoredRecording, started_at: datetime | None) -> datetime:
    """By what a recording is ordered in time: when it began, else when it was added."""
    return (started_at or kept.added_at).replace(tzinfo=None)


@lru_cache(maxsize=1)
def program_stamp() -> str:
    """A stamp of what deriving depends on beside the log: the program and its grammars."""
    formats = f"{__version__} {CONTRACT_FORMATS} {DIGEST_FORMAT} {_COUNTS}"
    digest = hashlib.sha256(formats.encode())
    for path in sorted(data_folder("grammars").rglob("*.jsgf")):
        digest.update(path.read_bytes())
    return digest.hexdigest()[:24]
