"""What was deleted on another device goes here too, with all that was said of it.

What was added since to what is gone goes with it: a correction of a deleted note is none. Sound
that is shared with what stays is written anew with the rest silent, before the rows go.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from pathlib import Path

from sqlalchemy import Connection, delete, select

from voicelog.model import FieldEvent, Utterance
from voicelog.store import cache, contents, event_log, matter_log, tombstones
from voicelog.store.deletion import drop_sound, silenced
from voicelog.store.log import Log
from voicelog.store.recording_part import RecordingPart
from voicelog.store.schema import events, hearings, profiles, recordings
from voicelog.store.share.asides import drop_gone
from voicelog.store.share.event_rows import rows_of_event
from voicelog.store.share.items import DeletionItem

__all__ = ["Deletions", "drop_events"]

_ALWAYS = 1e9
"""Later than any recording ends, s."""


class Deletions:
    """The deletions of a segment: `before` the transaction, and within it `apply`."""

    def __init__(self, log: Log, stones: Sequence[DeletionItem]) -> None:
        self._log, self._stones = log, stones
        self._silenced: dict[str, Path | None] = {}

    def before(self) -> None:
        """Write the sound anew of which parts go."""
        parts: dict[str, list[tuple[float, float]]] = {}
        for stone in self._stones:
            if stone.kind == "span" and stone.from_s is not None and stone.to_s is not None:
                parts.setdefault(stone.id, []).append((stone.from_s, stone.to_s))
        for name, stretches in parts.items():
            kept = self._log.recording(name)
            if kept is not None and kept.sound is not None:
                part = RecordingPart(
                    recording=name,
                    events=frozenset(),
                    stretches=tuple(sorted(stretches)),
                    whole=False,
                )
                self._silenced[name] = silenced(self._log, kept, part)

    def apply(self, connection: Connection) -> set[str]:
        """Delete; the recordings in which something changed."""
        touched: set[str] = set()
        if not self._stones:
            return touched
        for name, sound in self._silenced.items():
            kept = self._log.recording(name)
            if kept is not None:
                drop_sound(self._log, connection, kept, instead=sound)
        gone: list[str] = []
        for stone in self._stones:
            match stone.kind:
                case "event":
                    gone += self._event(connection, stone.id)
                case "span":
                    gone += self._span(connection, stone)
                case "recording":
                    self._recording(connection, stone.id)
                case "hush":
                    self._hush(connection, stone)
                case "dog":
                    touched |= self._dog(connection, stone)
                case "matter":
                    matter_log.drop(connection, [stone.id], self._log.now())
        touched |= drop_events(connection, gone, self._log.now())
        contents.drop_unused(connection)
        drop_gone(connection)
        return touched

    def _event(self, connection: Connection, name: str) -> list[str]:
        keys = rows_of_event(connection, name)
        stones = {name, *keys} - tombstones.find(connection, "event", {name, *keys})
        tombstones.lay(connection, "event", stones, self._log.now())
        return keys

    def _span(self, connection: Connection, stone: DeletionItem) -> list[str]:
        stretch = (stone.from_s or 0.0, _ALWAYS if stone.to_s is None else stone.to_s)
        tombstones.lay(connection, "span", [stone.id], self._log.now(), stretch)
        found = []
        query = select(events.c.id, events.c.body).where(
            events.c.recording == stone.id, events.c.about.is_(None)
        )
        for row in connection.execute(query).all():
            event = event_log.read(row.body)
            at = event.start_s if isinstance(event, Utterance) else None
            at = event.at_s if isinstance(event, FieldEvent) else at
            if at is not None and stretch[0] <= at < stretch[1]:
                found.append(row.id)
        fresh = set(found) - tombstones.find(connection, "event", found)
        tombstones.lay(connection, "event", fresh, self._log.now())
        return found

    def _recording(self, connection: Connection, name: str) -> None:
        tombstones.lay(connection, "recording", [name], self._log.now())
        row = connection.execute(select(recordings).where(recordings.c.id == name)).first()
        if row is None:
            return
        keys = list(connection.scalars(select(events.c.id).where(events.c.recording == name)))
        _drop(connection, keys, self._log.now())
        cache.put(connection, name, [])
        if row.sound is not None:
            tombstones.lay(connection, "sound", [Path(row.sound).stem], self._log.now())
        connection.execute(delete(recordings).where(recordings.c.id == name))

    def _hush(self, connection: Connection, stone: DeletionItem) -> None:
        stretch = (stone.from_s or 0.0, _ALWAYS if stone.to_s is None else stone.to_s)
        tombstones.lay(connection, "hush", [stone.id], self._log.now(), stretch)
        kept = self._log.recording(stone.id)
        if kept is not None and stretch[0] <= 0 and stretch[1] >= _ALWAYS:
            drop_sound(self._log, connection, kept)

    def _dog(self, connection: Connection, stone: DeletionItem) -> set[str]:
        until = stone.until or ""
        tombstones.lay_at(connection, "dog", stone.id, until)
        rows = select(profiles.c.seq, profiles.c.name, profiles.c.put_at).where(
            profiles.c.kind == "dog"
        )
        seqs = [
            row.seq
            for row in connection.execute(rows)
            if tombstones.dog_id(row.name) == stone.id and row.put_at <= until
        ]
        tombstones.lay(connection, "profile", map(str, seqs), self._log.now())
        connection.execute(delete(profiles).where(profiles.c.seq.in_(seqs)))
        return set(connection.scalars(select(hearings.c.recording).distinct()))


def drop_events(connection: Connection, keys: Iterable[str], now: datetime) -> set[str]:
    """Delete rows of events, and what is about them, as long as there is any, under tombstones;
    whose they were."""
    touched: set[str] = set()
    waiting = list(dict.fromkeys(keys))
    while waiting:
        for key in waiting:
            query = select(events.c.recording).where(events.c.id == key)
            touched.update(connection.scalars(query))
        _drop(connection, waiting, now)
        plain = {key.partition("#")[0] for key in waiting}
        left = {one for one in plain if not rows_of_event(connection, one)}
        waiting = []
        for name in left:
            query = select(events.c.id).where(events.c.about == name)
            waiting += connection.scalars(query)
    return touched


def _drop(connection: Connection, keys: Iterable[str], now: datetime) -> None:
    names = list(keys)
    fresh = set(names) - tombstones.find(connection, "event", names)
    tombstones.lay(connection, "event", sorted(fresh), now)
    for start in range(0, len(names), 500):
        some = events.c.id.in_(names[start : start + 500])
        connection.execute(delete(events).where(some))
