"""Where two people did otherwise with one thing, and neither knew of the other.

One of the two holds, by the same rule on every device; both are told, so that a
person may settle it.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Literal

from sqlalchemy import Connection, select

from voicelog.model import FrozenModel, Reading, Utterance
from voicelog.store import event_log
from voicelog.store.log import Log
from voicelog.store.schema import events, hearings, recordings, share_items
from voicelog.store.share import tables
from voicelog.store.share.hearings import choose
from voicelog.store.share.showing import heard_recording

__all__ = ["TrainerDifference", "share_differences"]


class TrainerDifference(FrozenModel):
    """What holds and what another did: of a recording that was "added" for two dogs or with two
    starts, or of a note at `at_s` (s) that two people "read". Each is its words and who said so."""

    what: Literal["added", "read"]
    file_name: str
    at_s: float = 0.0
    holds: tuple[str, str]
    other: tuple[str, str]


def share_differences(log: Log) -> tuple[TrainerDifference, ...]:
    """All that two people did otherwise, recording by recording."""
    found: list[TrainerDifference] = []
    with log.reading() as connection:
        shared = select(hearings.c.recording).distinct().order_by(hearings.c.recording)
        for name in connection.scalars(shared).all():
            file = select(recordings.c.file_name).where(recordings.c.id == name)
            file_name = connection.scalar(file)
            if file_name is not None:
                found += _added(connection, name, file_name)
                found += _read(connection, name, file_name)
    return tuple(found)


def _added(connection: Connection, recording: str, file_name: str) -> Iterator[TrainerDifference]:
    rows = connection.execute(select(hearings).where(hearings.c.recording == recording)).all()
    shown = next((row for row in rows if row.shown), None)
    if shown is None:
        return
    own = _option(connection, json.loads(shown.row))
    roots = {row.root or row.id for row in rows} - {shown.root or shown.id}
    told = {own}
    for row in rows:
        other = _option(connection, json.loads(row.row))
        if (row.root or row.id) in roots and other not in told:
            told.add(other)
            yield TrainerDifference(what="added", file_name=file_name, holds=own, other=other)


def _option(connection: Connection, row: dict[str, object]) -> tuple[str, str]:
    """For which dog a recording was added, and when it began."""
    query = select(share_items.c.line).where(
        share_items.c.kind == "content", share_items.c.ref == row["dog"]
    )
    line = connection.scalar(query) if row["dog"] is not None else None
    dog = json.loads(json.loads(line)["body"]["body"])[1] if line else ""
    return str(dog), str(row["started_at"] or "")


def _read(connection: Connection, recording: str, file_name: str) -> Iterator[TrainerDifference]:
    query = select(events.c.id, events.c.committed_at, events.c.body).where(
        events.c.recording == recording, events.c.body.contains('"by":"person"')
    )
    readings: dict[str, list[tuple[str, str, Reading]]] = {}
    for row in connection.execute(query):
        event = event_log.read(row.body)
        if isinstance(event, Reading):
            readings.setdefault(event.utterance, []).append((row.committed_at, row.id, event))
    starts: dict[str, float] = {}
    for name, some in readings.items():
        last = max(some, key=lambda read: read[:2])
        for _, key, event in some:
            if event.words == last[2].words or event.who == last[2].who:
                continue
            if not _knew(connection, last[1], key):
                starts = starts or _starts(connection, recording)
                yield _readings(file_name, starts.get(name, 0.0), last[2], event)
    found = heard_recording(connection, recording)
    if len(found.hearings) > 1:
        starts = starts or _starts(connection, recording)
        for first, second in choose(found.hearings, found.acts).contested:
            pair = [
                max(readings[one], key=lambda read: read[:2])[2]
                for one in (first, second)
                if one in readings
            ]
            if len(pair) == 2:
                yield _readings(file_name, starts.get(first, 0.0), pair[0], pair[1])


def _readings(file_name: str, at_s: float, one: Reading, other: Reading) -> TrainerDifference:
    return TrainerDifference(
        what="read",
        file_name=file_name,
        at_s=at_s,
        holds=(one.words, one.who),
        other=(other.words, other.who),
    )


def _starts(connection: Connection, recording: str) -> dict[str, float]:
    query = select(events.c.body).where(events.c.recording == recording, events.c.about.is_(None))
    told = (event_log.read(body) for body in connection.scalars(query))
    return {one.id: one.start_s for one in told if isinstance(one, Utterance)}


def _knew(connection: Connection, later: str, earlier: str) -> bool:
    """Whether who did the later one had the earlier one: it came in a segment that they had seen,
    or from the same device before."""
    query = select(share_items.c.segment).where(share_items.c.kind == "event")
    after = connection.scalar(query.where(share_items.c.ref == later))
    before = connection.scalar(query.where(share_items.c.ref == earlier))
    if before is None or after is None:
        return True  # one of them has not been shared
    return before in tables.ancestors(connection, [after])
