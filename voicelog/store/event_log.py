"""How events enter the log and come out again: only inserted, each once, in order.

Every function works within the caller's transaction.
"""

from __future__ import annotations

import hashlib
import threading
from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from pydantic import TypeAdapter
from sqlalchemy import Connection, func, insert, select

from voicelog.model import Action, Event, FieldEvent, Reading, Utterance, Verdict
from voicelog.store import tombstones
from voicelog.store.commit_time import CommitClock
from voicelog.store.errors import EventConflictError, UnknownTargetError
from voicelog.store.schema import events, hidden_events, recordings
from voicelog.store.set_aside import UnreadableRecordingError, reason

__all__ = [
    "ParsedEvents",
    "about",
    "add",
    "count",
    "event_json",
    "newest",
    "of_recording",
    "put",
    "read",
    "read_by_people",
    "recording_of",
    "recording_with",
    "stamped_of",
    "variant",
]

_EVENT: TypeAdapter[Event] = TypeAdapter(Event)
_SHOWN = events.c.id.not_in(select(hidden_events.c.id))
"""Not of another hearing than the one that is shown."""


def event_json(event: Event) -> str:
    """The event as JSON text that reads back equal.

    Raises:
        ValueError: it holds what JSON cannot (infinity, not-a-number, half a character).
    """
    try:
        body = event.model_dump_json()
        if _EVENT.validate_json(body) == event:
            return body
    except ValueError as error:
        raise ValueError(f"event {event.id!r} cannot be kept: {error}") from error
    raise ValueError(f"event {event.id!r} cannot be kept: it reads back as {body}")


def read(body: str) -> Event:
    """An event from its JSON text."""
    return _EVENT.validate_json(body)


def add(connection: Connection, rows: Sequence[tuple[Event, str]], at: datetime) -> int:
    """Insert events, with their bodies, that are not there yet; how many those were. What was
    deleted, and what is about it, is passed over.

    Raises:
        EventConflictError: an id is there already with another content.
        UnknownTargetError: an event's recording, utterance or target is not in the log.
    """
    added = 0
    stamps: dict[str, CommitClock] = {}
    named = [event.id for event, _ in rows] + [about(event) or event.id for event, _ in rows]
    gone = tombstones.find(connection, "event", named)
    for event, body in rows:
        if event.id in gone or about(event) in gone:  # the same sound is heard again
            gone.add(event.id)
            continue
        known = connection.scalar(select(events.c.body).where(events.c.id == event.id))
        if known is None:
            recording = recording_of(connection, event)
            if recording not in stamps:
                stamps[recording] = CommitClock(_last(connection, recording))
            put(connection, event, body, recording, stamps[recording].of(at))
            added += 1
        elif known != body and _EVENT.validate_json(known) != event:
            added += _add_beside(connection, event, body, at)
            stamps.clear()
    return added


def variant(event: Event) -> str:
    """The id of the row of an event whose own id the row of another content has."""
    told = hashlib.sha256(event_json(event).encode()).hexdigest()
    return f"{event.id}#{told[:16]}"


def _add_beside(connection: Connection, event: Event, body: str, at: datetime) -> int:
    """Insert an event whose id an event has that is not shown, of another hearing of the sound;
    how many were not there."""
    hidden = select(hidden_events.c.id).where(hidden_events.c.id == event.id)
    if connection.scalar(hidden) is None:
        raise EventConflictError(event.id)
    key = variant(event)
    if connection.scalar(select(events.c.id).where(events.c.id == key)) is not None:
        return 0
    recording = recording_of(connection, event)
    stamp = CommitClock(_last(connection, recording)).of(at)
    put(connection, event.model_copy(update={"id": key}), body, recording, stamp)
    return 1


def put(connection: Connection, event: Event, body: str, recording: str, stamp: str) -> None:
    """Insert one event that is not there yet, under the time it was committed."""
    connection.execute(
        insert(events).values(
            id=event.id,
            recording=recording,
            about=about(event),
            body=body,
            committed_at=stamp,
        )
    )


class ParsedEvents:
    """The events of the recordings that were read last, by their JSON text.

    A page asks for the same thousands of events after every change; only what has come since is
    taken from the database, and none that is known is parsed twice, so that an event is also the
    same object. May be used from several threads.
    """

    MOST = 2
    """Recordings whose events are kept."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._last: OrderedDict[str, dict[str, Event]] = OrderedDict()
        self._read: dict[str, _EventsRead] = {}

    def parse(self, recording: str, bodies: Sequence[str]) -> tuple[Event, ...]:
        """The events of these texts, all of one recording (its id). ValueError as `read`."""
        with self._lock:
            known = self._last.get(recording, {})
        found = {body: known.get(body) or _EVENT.validate_json(body) for body in bodies}
        with self._lock:
            self._last[recording] = found
            self._last.move_to_end(recording)
            while len(self._last) > self.MOST:
                gone, _ = self._last.popitem(last=False)
                self._read.pop(gone, None)
        return tuple(found[body] for body in bodies)

    def read(self, recording: str) -> _EventsRead | None:
        """What was read of a recording last, None where nothing was."""
        with self._lock:
            return self._read.get(recording)

    def keep(self, recording: str, read: _EventsRead) -> None:
        """That was read of a recording just now."""
        with self._lock:
            if recording in self._last:
                self._read[recording] = read


@dataclass(frozen=True, slots=True)
class _EventsRead:
    """The events of a recording that are shown, as they were read: their `stamps` (number and time
    of each, by number, as one text), their newest number, and when the last was committed. Numbers
    are never given out twice, so events of the same stamps are the same in the same order."""

    stamps: str
    newest: int
    last: str
    events: tuple[Event, ...]


def of_recording(
    connection: Connection, recording: str, parsed: ParsedEvents | None = None
) -> tuple[Event, ...]:
    """The events of a recording, in the order they were committed. `connection` is in a
    transaction; `parsed` has those that need no reading.

    Raises:
        UnreadableRecordingError: one of them is not as this program knows events.
    """
    known = None if parsed is None else parsed.read(recording)
    if known is None:
        return _read_all(connection, recording, parsed)
    assert parsed is not None  # what is known is of it
    shown = (
        select(events.c.seq, events.c.committed_at)
        .where(events.c.recording == recording, _SHOWN)
        .order_by(events.c.seq)
        .subquery()
    )
    stamp = shown.c.seq.concat(" ").concat(shown.c.committed_at)
    ends = (func.max(shown.c.seq), func.max(shown.c.committed_at))
    stamps, highest, last = connection.execute(select(func.group_concat(stamp), *ends)).one()
    if known.stamps == stamps:
        return known.events
    found = _with_new(connection, recording, known, stamps)
    if found is None:
        return _read_all(connection, recording, parsed)
    if found:
        parsed.keep(recording, _EventsRead(stamps, highest, last, found))
    return found


def _read_all(
    connection: Connection, recording: str, parsed: ParsedEvents | None
) -> tuple[Event, ...]:
    """All events of a recording, which are kept in `parsed` with their stamps."""
    rows = _rows(connection, recording)
    found = _parsed(connection, recording, [body for _, _, body in rows], parsed)
    if rows and parsed is not None:
        stamps = ",".join(f"{seq} {at}" for seq, at in sorted((seq, at) for seq, at, _ in rows))
        highest, last = max(seq for seq, _, _ in rows), rows[-1][1]
        parsed.keep(recording, _EventsRead(stamps, highest, last, found))
    return found


def _with_new(
    connection: Connection,
    recording: str,
    known: _EventsRead,
    stamps: str | None,
) -> tuple[Event, ...] | None:
    """The events that are known and those that have come since, None where these do not all follow
    on those, or some of those are gone. `stamps` are those of all that there are now."""
    if stamps is None or not stamps.startswith(f"{known.stamps},"):
        return None
    query = (
        select(events.c.committed_at, events.c.id, events.c.body)
        .where(events.c.recording == recording, events.c.seq > known.newest, _SHOWN)
        .order_by(events.c.committed_at, events.c.body)
    )
    rows = connection.execute(query).all()
    if len(known.events) + len(rows) != stamps.count(",") + 1 or rows[0][0] <= known.last:
        return None
    try:
        return (*known.events, *(_EVENT.validate_json(body) for _, _, body in rows))
    except ValueError:
        return None  # whoever reads all of them says which it is


def stamped_of(connection: Connection, recording: str) -> tuple[tuple[str, Event], ...]:
    """The same, each with the time it was committed; of a sound that was heard more than once,
    those of the hearing that is shown (`voicelog.store.share.hearings`).

    Raises:
        UnreadableRecordingError: one of them is not as this program knows events.
    """
    rows = _rows(connection, recording)
    found = _parsed(connection, recording, [body for _, _, body in rows])
    return tuple(zip((at for _, at, _ in rows), found, strict=True))


def _rows(connection: Connection, recording: str) -> list[tuple[int, str, str]]:
    """The number, time and text of each event of a recording that is shown, in their order."""
    query = (
        select(events.c.seq, events.c.committed_at, events.c.body)
        .where(events.c.recording == recording, _SHOWN)
        .order_by(events.c.committed_at, events.c.body)  # ids may differ from device to device
    )
    return [(seq, at, body) for seq, at, body in connection.execute(query)]


def _parsed(
    connection: Connection,
    recording: str,
    bodies: Sequence[str],
    parsed: ParsedEvents | None = None,
) -> tuple[Event, ...]:
    try:
        return (parsed or ParsedEvents()).parse(recording, bodies)
    except ValueError as error:
        query = select(recordings.c.file_name).where(recordings.c.id == recording)
        name = connection.scalar(query) or recording
        raise UnreadableRecordingError(name, f"in an event, {reason(error)}") from error


def count(connection: Connection) -> int:
    """How many events there are in all. `connection` is in a transaction."""
    return connection.scalar(select(func.count()).select_from(events)) or 0


def newest(connection: Connection, recording: str | None) -> int:
    """Number of the newest event of a recording, or of all (None); 0 when there is none.
    `connection` is in a transaction."""
    query = select(func.max(events.c.seq))
    if recording is not None:
        query = query.where(events.c.recording == recording)
    return connection.scalar(query) or 0


def read_by_people(connection: Connection) -> tuple[str, ...]:
    """The recordings in which a person has read or done something, in their order. `connection` is
    in a transaction."""
    touched = select(events.c.recording).where(
        events.c.about.is_not(None), events.c.body.contains('"by":"person"')
    )
    query = select(recordings.c.id).where(recordings.c.id.in_(touched)).order_by(recordings.c.seq)
    return tuple(connection.scalars(query))


def _last(connection: Connection, recording: str) -> str | None:
    query = select(func.max(events.c.committed_at)).where(events.c.recording == recording)
    newest_at: str | None = connection.scalar(query)
    return newest_at


def about(event: Event) -> str | None:
    """The id of the event that this one is about, or None."""
    match event:
        case Reading() | Verdict():
            return event.utterance
        case Action():
            return event.target
        case Utterance() | FieldEvent():
            return None


def recording_with(connection: Connection, event: str) -> str | None:
    """The recording that holds the event of that id, or None."""
    found: str | None = connection.scalar(select(events.c.recording).where(events.c.id == event))
    return found


def recording_of(connection: Connection, event: Event) -> str:
    """The recording that an event belongs to: its own, or that of what it is about. `connection` is
    in a transaction.

    Raises:
        UnknownTargetError: that is not in the log.
    """
    if isinstance(event, Utterance | FieldEvent):
        wanted = event.recording
        query = select(recordings.c.id).where(recordings.c.id == wanted)
    else:
        wanted = event.target if isinstance(event, Action) else event.utterance
        query = select(events.c.recording).where(events.c.id == wanted)
    found: str | None = connection.scalar(query)
    if found is None:
        raise UnknownTargetError(f"Event {event.id}", wanted)
    return found
