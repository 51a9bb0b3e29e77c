"""What stands before an act that may take away what it rests on, noted until the act is over.

A program that is killed in between leaves it here, and whoever opens the log next sees to it
(`voicelog.app.kept_matters`).
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence

from sqlalchemy import delete, insert, select

from voicelog.model import MatterEvent
from voicelog.store import matter_log
from voicelog.store.log import Log
from voicelog.store.schema import share_state

__all__ = ["STANDING", "forget_standing", "note_standing", "noted_standing"]

STANDING = "standing:"
"""Begins the keys of what was noted."""


def note_standing(log: Log, name: str, keep: Sequence[MatterEvent]) -> None:
    """Note under a name, of each matter that stands, the event that would keep it."""
    told = json.dumps([one.model_dump(mode="json", exclude_defaults=True) for one in keep])
    with log.writing() as connection:
        connection.execute(insert(share_state).values(key=f"{STANDING}{name}", value=told))


def noted_standing(log: Log) -> Mapping[str, tuple[MatterEvent, ...]]:
    """What is noted, by its names."""
    query = select(share_state.c.key, share_state.c.value)
    with log.reading() as connection:
        rows = connection.execute(query.where(share_state.c.key.startswith(STANDING))).all()
    found = {}
    for row in rows:
        events = map(MatterEvent.model_validate, json.loads(row.value))
        found[row.key.removeprefix(STANDING)] = tuple(events)
    return found


def forget_standing(log: Log, name: str, lost: Sequence[MatterEvent]) -> None:
    """Keep those of the noted matters that were `lost`, and forget the note, in one."""
    with log.writing() as connection:
        if lost:
            matter_log.add(connection, lost, log.now())
        same = share_state.c.key == f"{STANDING}{name}"
        connection.execute(delete(share_state).where(same))
