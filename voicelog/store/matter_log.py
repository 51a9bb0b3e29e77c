"""How matter events enter the log and come out again: only inserted, each once.

They stand beside the events of recordings, since what was done about a matter outlives the session
that it came from. Every function works within the caller's transaction.
"""

from __future__ import annotations

import hashlib
from collections.abc import Container, Iterable, Sequence
from datetime import datetime

from sqlalchemy import Connection, delete, insert, select

from voicelog.model import MatterEvent
from voicelog.model.matters import LAST_TURN
from voicelog.store import tombstones
from voicelog.store.schema import matter_events

__all__ = ["add", "drop", "is_of", "read_all", "take"]


def read_all(connection: Connection) -> tuple[MatterEvent, ...]:
    """Every matter event, in the order in which they came into this log."""
    bodies = connection.scalars(select(matter_events.c.body).order_by(matter_events.c.seq))
    return tuple(map(MatterEvent.model_validate_json, bodies))


def add(connection: Connection, new: Iterable[MatterEvent], now: datetime) -> None:
    """Insert events, each after all that are there; one that is there is passed over."""
    known = read_all(connection)
    here = {one.id for one in known}
    turn = max((one.turn for one in known), default=0)
    for one in new:
        if one.id not in here:
            turn = min(turn + 1, LAST_TURN)
            _put(connection, one.model_copy(update={"at": now, "turn": turn}))


def take(connection: Connection, incoming: Iterable[MatterEvent]) -> int:
    """Take in events of another log; how many were not here. What was deleted here stays so.

    One whose id is here with another content goes beside it, under an id of its own.
    """
    here = {one.id: one for one in read_all(connection)}
    coming: dict[str, MatterEvent] = {}
    for one in incoming:
        if one.id in here and here[one.id] != one:
            digest = hashlib.sha256(one.model_dump_json().encode()).hexdigest()[:12]
            one = one.model_copy(update={"id": f"{one.id[:60]}~{digest}"})
        coming[one.id] = one
    gone = tombstones.find(connection, "matter", coming)
    new = [one for name, one in coming.items() if name not in here and name not in gone]
    for one in new:
        _put(connection, one)
    return len(new)


def is_of(entry: str, events: Container[str]) -> bool:
    """Whether what a matter rests on is among these events, or a session that one of them began
    (a matter without evidence rests on its session)."""
    return entry in events or entry.rpartition(".s")[0] in events


def drop(connection: Connection, ids: Sequence[str], now: datetime) -> None:
    """Delete events for good, under tombstones."""
    tombstones.lay(connection, "matter", ids, now)
    for one in ids:
        connection.execute(delete(matter_events).where(matter_events.c.id == one))


def _put(connection: Connection, one: MatterEvent) -> None:
    connection.execute(insert(matter_events).values(id=one.id, body=one.model_dump_json()))
