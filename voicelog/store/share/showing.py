"""What is shown of a recording that was shared: one hearing of it, and what people did.

It is chosen anew whenever something of it came, and derived on trial before that is committed: what
does not derive is set aside, with its reason, and all else is shown (`sifting`). It stays in the
log and in the folder, so that a program that can derive it takes it.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, delete, insert, select, update

from voicelog.model import FieldEvent
from voicelog.store import cache, event_log
from voicelog.store.merge import DryRun
from voicelog.store.schema import (
    events,
    hearing_events,
    hearings,
    hidden_events,
    recordings,
)
from voicelog.store.set_aside import SetAsideError
from voicelog.store.share.asides import ShareAside, note_asides
from voicelog.store.share.hearings import Choice, Hearing, KeyedEvent, choose
from voicelog.store.share.rows import EffectiveRow, RowCache, effective_row
from voicelog.store.share.sifting import Sifted, sift

__all__ = [
    "HeardRecording",
    "heard_recording",
    "refold",
]


@dataclass(frozen=True, slots=True)
class HeardRecording:
    """The hearings of a recording, and what people did in it (`acts`), with what happened around
    the sound (`deeds`); in their order. `bodies` are the rows' texts by their ids."""

    hearings: tuple[Hearing, ...]
    deeds: tuple[KeyedEvent, ...]
    bodies: Mapping[str, str]

    @property
    def acts(self) -> tuple[KeyedEvent, ...]:
        """What people did."""
        return tuple(one for one in self.deeds if not isinstance(one.event, FieldEvent))


def refold(
    connection: Connection,
    touched: Iterable[str],
    trial: DryRun,
    rows: RowCache | None = None,
    *,
    came: bool = True,
) -> None:
    """Choose anew what is shown of these recordings, where they were heard for a share. `came`:
    something of them came, so that what was derived does not hold any more in any case."""
    rows = rows or RowCache(connection)
    for name in sorted(touched):
        here = connection.execute(select(recordings).where(recordings.c.id == name)).mappings()
        row = here.first()
        if came:
            cache.put(connection, name, [])
        if row is None or not row["complete"]:
            note_asides(connection, name, [])
            continue
        try:
            found = heard_recording(connection, name)
            if found.hearings and _show(connection, dict(row), found, rows, trial):
                cache.put(connection, name, [])
        except ValueError:  # an event or a row that cannot be read sets the recording aside
            continue


def heard_recording(connection: Connection, recording: str) -> HeardRecording:
    """The hearings of a recording, and what people did in it. `connection` is in a transaction.

    Raises:
        ValueError: an event cannot be read.
    """
    query = select(events.c.id, events.c.committed_at, events.c.body).order_by(
        events.c.committed_at, events.c.body
    )
    kept = connection.execute(query.where(events.c.recording == recording)).all()
    told = {
        row.id: KeyedEvent(row.id, "", row.committed_at, event_log.read(row.body)) for row in kept
    }
    found: list[Hearing] = []
    keys: set[str] = set()
    of_it = select(hearings).where(hearings.c.recording == recording)
    for one in connection.execute(of_it.order_by(hearings.c.id)).all():
        members = select(hearing_events.c.event, hearing_events.c.item)
        heard = tuple(
            KeyedEvent(row.event, row.item, told[row.event].at, told[row.event].event)
            for row in connection.execute(members.where(hearing_events.c.hearing == one.id))
            if row.event in told
        )
        keys.update(event.key for event in heard)
        found.append(Hearing(one.id, one.root or one.id, one.depth, heard))
    deeds = tuple(
        KeyedEvent(key, one.event.id, one.at, one.event)
        for key, one in told.items()
        if key not in keys
    )
    return HeardRecording(tuple(found), deeds, {row.id: row.body for row in kept})


# --- within -----------------------------------------------------------------------------


def _show(
    connection: Connection,
    row: Mapping[str, Any],
    found: HeardRecording,
    rows: RowCache,
    trial: DryRun,
) -> bool:
    """Show what was chosen; whether that is another than before."""
    recording = row["id"]
    effective: dict[str, EffectiveRow] = {}

    def row_of(hearing: str) -> EffectiveRow:
        if hearing not in effective:
            text = connection.scalar(select(hearings.c.row).where(hearings.c.id == hearing))
            effective[hearing] = effective_row(json.loads(text or "{}") | {"id": recording}, rows)
        return effective[hearing]

    def fails(heard: Sequence[Hearing], deeds: Sequence[KeyedEvent]) -> str | None:
        choice = _chosen(heard, deeds)
        seen = {one.key: one for each in heard for one in each.events}
        seen = {key: one for key, one in seen.items() if key not in choice.hidden}
        seen |= {one.key: one for one in deeds}
        ordered = sorted(seen.values(), key=lambda one: (one.at, found.bodies[one.key]))
        try:
            trial(row_of(choice.shown).recording, tuple(one.event for one in ordered))
        except SetAsideError as error:
            return error.why
        return None

    sifted = sift(found.hearings, found.deeds, fails)
    choice = _chosen(sifted.hearings, sifted.deeds)
    machine = {one.key for each in found.hearings for one in each.events}
    shown = {one.key for each in sifted.hearings for one in each.events} - choice.hidden
    hidden = (machine - shown) | sifted.bad_deeds.keys()
    _note(connection, row, found, sifted)
    of_recording = select(events.c.id).where(events.c.recording == recording)
    kept = select(hidden_events.c.id).where(hidden_events.c.id.in_(of_recording))
    before = set(connection.scalars(kept))
    for key in before - hidden:
        connection.execute(delete(hidden_events).where(hidden_events.c.id == key))
    if fresh := hidden - before:
        connection.execute(insert(hidden_events), [{"id": key} for key in sorted(fresh)])
    of_it = hearings.c.recording == recording
    connection.execute(update(hearings).where(of_it).values(shown=hearings.c.id == choice.shown))
    wanted = row_of(choice.shown).values
    other = any(row[name] != value for name, value in wanted.items())
    if other:
        same = recordings.c.id == recording
        connection.execute(update(recordings).where(same).values(dict(wanted)))
    return other or before != hidden


def _chosen(heard: Sequence[Hearing], deeds: Sequence[KeyedEvent]) -> Choice:
    return choose(heard, [one for one in deeds if not isinstance(one.event, FieldEvent)])


def _note(
    connection: Connection, row: Mapping[str, Any], found: HeardRecording, sifted: Sifted
) -> None:
    """Write down what is set aside of a recording."""
    name = row["file_name"] or row["id"][:12]
    told = [
        ShareAside(key=key, hearing=True, file_name=name, why=why)
        for key, why in sifted.bad_hearings.items()
    ]
    for one in found.deeds:
        if one.key in sifted.bad_deeds:
            who = getattr(one.event, "who", "") or ""
            why = sifted.bad_deeds[one.key]
            told.append(ShareAside(key=one.key, hearing=False, file_name=name, who=who, why=why))
    note_asides(connection, row["id"], told)
