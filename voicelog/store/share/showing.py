"""What is shown of a recording that was shared: one hearing of it, and what people did.

It is chosen anew whenever something of it came, and derived on trial before that is committed: what
does not derive is set aside, with its reason, and all else is shown (`sifting`). It stays in the
log and in the folder, so that a program that can derive it takes it.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, delete, insert, select, update

from voicelog.model import Event, FieldEvent
from voicelog.store import cache, event_log
from voicelog.store.records import StoredRecording
from voicelog.store.schema import (
    events,
    hearing_events,
    hearings,
    hidden_events,
    recordings,
)
from voicelog.store.share.asides import ShareAside, note_asides
from voicelog.store.share.hearings import Choice, Hearing, KeyedEvent, choose
from voicelog.store.share.rows import EffectiveRow, RowCache, effective_row
from voicelog.store.share.sifting import Sifted, sift

__all__ = [
    "HeardRecording",
    "Trial",
    "heard_recording",
    "no_trial",
    "refold",
]

_OnTrial = tuple[StoredRecording, Sequence[Event]]
Trial = Callable[[Sequence[_OnTrial]], Sequence[str | None]]
"""Why each of these recordings with these events does not derive by itself, None where it does: the
same on every device. Many are asked for at once, so that they can be derived side by side."""

_AT_ONCE = 128
"""Recordings that are derived on trial at once."""


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


def no_trial(given: Sequence[_OnTrial]) -> Sequence[str | None]:
    """Where nothing is derived, everything does."""
    return [None] * len(given)


def refold(
    connection: Connection,
    touched: Iterable[str],
    trial: Trial,
    rows: RowCache | None = None,
    *,
    came: bool = True,
) -> None:
    """Choose anew what is shown of these recordings, where they were heard for a share. `came`:
    something of them came, so that what was derived does not hold any more in any case."""
    rows = rows or RowCache(connection)
    names = sorted(touched)
    for at in range(0, len(names), _AT_ONCE):
        ready = list(_ready(connection, names[at : at + _AT_ONCE], rows, came=came))
        for (one, _), why in zip(ready, trial([whole for _, whole in ready]), strict=True):
            with suppress(ValueError):  # the row of one of its hearings cannot be read
                if _show(connection, one, why, trial):
                    cache.put(connection, one.row["id"], [])


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


class _Unshown:
    """A recording of which it is to be chosen what is shown. `row` is its row."""

    def __init__(
        self, connection: Connection, row: Mapping[str, Any], found: HeardRecording, rows: RowCache
    ) -> None:
        self._connection, self._rows = connection, rows
        self.row, self.found = row, found
        self._effective: dict[str, EffectiveRow] = {}

    def row_of(self, hearing: str) -> EffectiveRow:
        """The row with which that hearing is shown. Raises as `effective_row`."""
        if hearing not in self._effective:
            query = select(hearings.c.row).where(hearings.c.id == hearing)
            told = json.loads(self._connection.scalar(query) or "{}") | {"id": self.row["id"]}
            self._effective[hearing] = effective_row(told, self._rows)
        return self._effective[hearing]

    def on_trial(self, heard: Sequence[Hearing], deeds: Sequence[KeyedEvent]) -> _OnTrial:
        """The recording with these alone, to be derived. Raises as `effective_row`."""
        choice = _chosen(heard, deeds)
        seen = {one.key: one for each in heard for one in each.events}
        seen = {key: one for key, one in seen.items() if key not in choice.hidden}
        seen |= {one.key: one for one in deeds}
        ordered = sorted(seen.values(), key=lambda one: (one.at, self.found.bodies[one.key]))
        return self.row_of(choice.shown).recording, tuple(one.event for one in ordered)


def _ready(
    connection: Connection, names: Sequence[str], rows: RowCache, *, came: bool
) -> Iterator[tuple[_Unshown, _OnTrial]]:
    """Those of these recordings of which it can be chosen what is shown, each with all of it."""
    for name in names:
        here = connection.execute(select(recordings).where(recordings.c.id == name)).mappings()
        row = here.first()
        if came:
            cache.put(connection, name, [])
        if row is None or not row["complete"]:
            note_asides(connection, name, [])
            continue
        with suppress(ValueError):  # an event or a row that cannot be read: it is set aside whole
            found = heard_recording(connection, name)
            if found.hearings:
                one = _Unshown(connection, dict(row), found, rows)
                yield one, one.on_trial(found.hearings, found.deeds)


def _show(connection: Connection, one: _Unshown, whole: str | None, trial: Trial) -> bool:
    """Show what was chosen; whether that is another than before. `whole` is why all of it does not
    derive."""
    row, found, row_of = one.row, one.found, one.row_of
    recording = row["id"]

    def fails(heard: Sequence[Hearing], deeds: Sequence[KeyedEvent]) -> str | None:
        return trial([one.on_trial(heard, deeds)])[0]

    sifted = sift(found.hearings, found.deeds, whole, fails)
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
