"""Rows of events within one transaction: looked up many at once, and put in many at once.

A segment may bring tens of thousands of events, and a query for each of them took most of the time
of taking it in.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from sqlalchemy import Connection, insert, select, update

from voicelog.model import Event
from voicelog.store import event_log, tombstones
from voicelog.store.schema import events
from voicelog.store.share import tables

__all__ = ["EventRows", "rows_of_event"]


class EventRows:
    """The rows of the events that were asked for, and those to be put in. No row is removed, and
    no tombstone laid, while it is used."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection
        self._asked: set[str] = set()
        self._gone: set[str] = set()
        self._rows: dict[str, dict[str, Any]] = {}
        self._new: dict[str, dict[str, Any]] = {}

    def fetch(self, wanted: Iterable[Event]) -> None:
        """Look up these events, what they are about, and which of that was deleted."""
        told = list(wanted)
        ids = {one.id for one in told} | {event_log.about(one) or one.id for one in told}
        names = sorted(ids - self._asked)
        self._look_up(names)
        self._gone |= tombstones.find(self._connection, "event", names)

    def is_gone(self, *names: str | None) -> bool:
        """Whether one of these, which were fetched, was deleted."""
        return not self._gone.isdisjoint(names)

    def has(self, name: str) -> bool:
        """Whether there is a row of that event's id, or of other contents under it."""
        self._look_up([name])
        if name in self._rows or any(key.startswith(f"{name}#") for key in self._new):
            return True
        return bool(rows_of_event(self._connection, name))

    def put(self, recording: str, event: Event, at: str) -> str | None:
        """The id of the row of an event of a recording, which is put in as committed `at` where
        there is none; None where both ids that it may have are taken by others."""
        body = event_log.event_json(event)
        for key in (event.id, event_log.variant(event)):
            self._look_up([key])
            row = self._rows.get(key)
            if row is None:
                self._rows[key] = self._new[key] = {
                    "id": key,
                    "recording": recording,
                    "about": event_log.about(event),
                    "body": body,
                    "committed_at": at,
                }
                return key
            same = row["body"] == body or event_log.read(row["body"]) == event
            if row["recording"] == recording and same:
                return key
        return None

    def lower(self, key: str, at: str) -> str | None:
        """Say that an event was committed `at`, where its row says later; its recording, None
        where nothing changed."""
        self._look_up([key])
        row = self._rows.get(key)
        if row is None or row["committed_at"] <= at:
            return None
        row["committed_at"] = at
        if key not in self._new:
            same = update(events).where(events.c.id == key)
            self._connection.execute(same.values(committed_at=at))
        return str(row["recording"])

    def write(self) -> None:
        """Put in what is to be put in."""
        if self._new:
            self._connection.execute(insert(events), list(self._new.values()))
            self._new = {}

    def _look_up(self, names: Iterable[str]) -> None:
        wanted = [name for name in names if name not in self._asked]
        self._asked.update(wanted)
        for start in range(0, len(wanted), tables.AT_ONCE):
            some = events.c.id.in_(wanted[start : start + tables.AT_ONCE])
            for row in self._connection.execute(select(events).where(some)).mappings():
                self._rows[row["id"]] = dict(row)


def rows_of_event(connection: Connection, name: str) -> list[str]:
    """The rows of an event's id: one of that id, and those of other contents
    (`voicelog.store.event_log.variant`)."""
    own = select(events.c.id).where(events.c.id == name)
    beside = select(events.c.id).where(events.c.id > f"{name}#", events.c.id < f"{name}$")
    return [*connection.scalars(own), *connection.scalars(beside)]
