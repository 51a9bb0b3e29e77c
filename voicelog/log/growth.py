"""How events enter the log and come out again: only inserted, each once, in order.

Every function works within the caller's transaction.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from pydantic import TypeAdapter
from sqlalchemy import Connection, func, insert, select

from voicelog.log.errors import EventClashError, UnknownTargetError
from voicelog.log.schema import events, recordings
from voicelog.model import Action, Event, FieldEvent, Reading, Utterance, Verdict

__all__ = ["add", "newest", "of_recording", "whole_body"]

_EVENT: TypeAdapter[Event] = TypeAdapter(Event)


def whole_body(event: Event) -> str:
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


def add(connection: Connection, rows: Sequence[tuple[Event, str]], at: datetime) -> int:
    """Insert events, with their bodies, that are not there yet; how many those were.

    Raises:
        EventClashError: an id is there already with another content.
        UnknownTargetError: an event's recording, utterance or target is not in the log.
    """
    added = 0
    for event, body in rows:
        known = connection.scalar(select(events.c.body).where(events.c.id == event.id))
        if known is None:
            connection.execute(
                insert(events).values(
                    id=event.id,
                    recording=_recording_of(connection, event),
                    about=_about(event),
                    body=body,
                    committed_at=at.isoformat(),
                )
            )
            added += 1
        elif known != body and _EVENT.validate_json(known) != event:
            raise EventClashError(event.id)
    return added


def of_recording(connection: Connection, recording: str) -> tuple[Event, ...]:
    """The events of a recording, in the order they were committed."""
    query = select(events.c.body).where(events.c.recording == recording).order_by(events.c.seq)
    return tuple(_EVENT.validate_json(body) for body in connection.scalars(query))


def newest(connection: Connection, recording: str | None) -> int:
    """Number of the newest event of a recording, or of all (None); 0 when there is none."""
    query = select(func.max(events.c.seq))
    if recording is not None:
        query = query.where(events.c.recording == recording)
    return connection.scalar(query) or 0


def _about(event: Event) -> str | None:
    match event:
        case Reading() | Verdict():
            return event.utterance
        case Action():
            return event.target
        case Utterance() | FieldEvent():
            return None


def _recording_of(connection: Connection, event: Event) -> str:
    """The recording that an event belongs to: its own, or that of what it is about."""
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
