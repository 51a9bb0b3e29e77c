"""Where two people did otherwise with one thing, and neither knew of the other.

One of the two holds, by the same rule on every device; both are told, so that a
person may settle it.
"""

from __future__ import annotations

import json
from collections.abc import Collection, Iterator
from typing import Literal

from sqlalchemy import ColumnElement, Connection, FromClause, and_, exists, func, select

from voicelog.model import Action, Event, FrozenModel, Reading, Utterance
from voicelog.session.entries import undone_events
from voicelog.store import event_log
from voicelog.store.log import Log
from voicelog.store.schema import events, hearings, recordings, share_items
from voicelog.store.share import tables
from voicelog.store.share.hearings import choose
from voicelog.store.share.segments import SegmentHeader
from voicelog.store.share.showing import heard_recording

__all__ = ["TrainerDifference", "note_read_twice", "share_differences"]

_READ_TWICE = "read_twice"
"""Key of what `note_read_twice` remembers: the number of the newest event that was looked at, and
the recordings, as JSON."""


class TrainerDifference(FrozenModel):
    """What holds and what another did: of a recording that was "added" for two dogs or with two
    starts, or of a note at `at_s` (s) that two people "read". Each is its words and who said so."""

    what: Literal["added", "read"]
    file_name: str
    at_s: float = 0.0
    holds: tuple[str, str]
    other: tuple[str, str]
    other_file: str = ""
    """What the sound was called where it was added the other way."""


def share_differences(
    log: Log, among: Collection[str] | None = None
) -> tuple[TrainerDifference, ...]:
    """All that two people did otherwise and nobody who knew of both settled, recording by
    recording; with `among`, of those recordings alone. Only a recording that was heard more than
    once is looked at as a whole, and only one in which a note was read more than once at all; of
    these all are known but those of events since `note_read_twice`."""
    found: list[TrainerDifference] = []
    with log.reading() as connection:
        shared = (
            select(recordings.c.id, recordings.c.file_name, func.count().label("hearings"))
            .join(hearings, hearings.c.recording == recordings.c.id)
            .group_by(recordings.c.id, recordings.c.file_name)
            .order_by(recordings.c.id)
        )
        knowledge = _Knowledge(connection)
        _, read_twice = _looked_through(connection)
        for row in connection.execute(shared).all():
            if among is not None and row.id not in among:
                continue
            if row.hearings == 1 and row.id not in read_twice:
                continue
            readings = _readings_of(connection, row.id)
            found += _read(connection, row.id, row.file_name, readings, knowledge)
            if row.hearings > 1:
                found += _added(connection, row.id, row.file_name, knowledge)
                found += _contested(connection, row.id, row.file_name, readings)
    return tuple(found)


def note_read_twice(log: Log) -> None:
    """Remember in which recordings people read a note more than once, so that nobody has to go
    through all events for it again."""
    with log.reading() as connection:
        known = tables.get(connection, _READ_TWICE)
        newest, found = _looked_through(connection)
    text = json.dumps([newest, sorted(found)])
    if text != known:
        with log.writing() as connection:
            tables.put(connection, _READ_TWICE, text)


def _looked_through(connection: Connection) -> tuple[int, set[str]]:
    """The number of the newest event, and the recordings in which people read a note more than
    once: those that are remembered, and those of the events since."""
    before, known = json.loads(tables.get(connection, _READ_TWICE) or "[0, []]")
    same = events.alias()
    again = exists().where(
        same.c.about == events.c.about, same.c.seq != events.c.seq, _by_a_person(same)
    )
    query = select(events.c.recording).where(
        events.c.seq > before, events.c.about.is_not(None), _by_a_person(events), again
    )
    return event_log.newest(connection, None), {*known, *connection.scalars(query.distinct())}


def _by_a_person(table: FromClause) -> ColumnElement[bool]:
    """Whether an event is a reading of a person."""
    return and_(table.c.body.contains('"event":"reading"'), table.c.body.contains('"by":"person"'))


def _added(
    connection: Connection, recording: str, file_name: str, knowledge: _Knowledge
) -> Iterator[TrainerDifference]:
    rows = connection.execute(select(hearings).where(hearings.c.recording == recording)).all()
    shown = next((row for row in rows if row.shown), None)
    if shown is None:
        return
    own = _option(connection, json.loads(shown.row))
    roots = {row.root or row.id for row in rows} - {shown.root or shown.id}
    told = {own}
    acts = _settling(connection, recording)
    for row in rows:
        values = json.loads(row.row)
        other = _option(connection, values)
        if (row.root or row.id) not in roots or other in told:
            continue
        told.add(other)
        if not any(all(knowledge.had_hearing(act, one.id) for one in (shown, row)) for act in acts):
            yield TrainerDifference(
                what="added",
                file_name=file_name,
                holds=own,
                other=other,
                other_file=str(values["file_name"]),
            )


def _settling(connection: Connection, recording: str) -> list[str]:
    """The rows of what people said of the dog or the start of a recording."""
    query = select(events.c.id, events.c.body).where(
        events.c.recording == recording, events.c.body.contains('"by":"person"')
    )
    acts = [(row.id, event_log.read(row.body)) for row in connection.execute(query)]
    undone = undone_events(tuple(event for _, event in acts))
    return [key for key, event in acts if event.id not in undone and _settles(event)]


def _settles(event: Event) -> bool:
    match event:
        case Action(action="clock" | "move"):
            return True
        case Reading(words=words):
            return words.startswith("wrong dog")
        case _:
            return False


def _option(connection: Connection, row: dict[str, object]) -> tuple[str, str]:
    """For which dog a recording was added, and when it began."""
    query = select(share_items.c.line).where(
        share_items.c.kind == "content", share_items.c.ref == row["dog"]
    )
    line = connection.scalar(query) if row["dog"] is not None else None
    dog = json.loads(json.loads(line)["body"]["body"])[1] if line else ""
    return str(dog), str(row["started_at"] or "")


_Readings = dict[str, list[tuple[str, str, Reading]]]
"""What people read of each utterance: when it was committed, the row's id, and the reading."""


def _readings_of(connection: Connection, recording: str) -> _Readings:
    query = select(events.c.id, events.c.committed_at, events.c.body).where(
        events.c.recording == recording, events.c.body.contains('"by":"person"')
    )
    readings: _Readings = {}
    for row in connection.execute(query):
        event = event_log.read(row.body)
        if isinstance(event, Reading):
            readings.setdefault(event.utterance, []).append((row.committed_at, row.id, event))
    return readings


def _read(
    connection: Connection,
    recording: str,
    file_name: str,
    readings: _Readings,
    knowledge: _Knowledge,
) -> Iterator[TrainerDifference]:
    starts: dict[str, float] = {}
    for name, some in readings.items():
        last = max(some, key=lambda read: read[:2])
        for _, key, event in some:
            if event.words == last[2].words or event.who == last[2].who:
                continue
            if not knowledge.had(last[1], key):
                starts = starts or _starts(connection, recording)
                yield _readings(file_name, starts.get(name, 0.0), last[2], event)


def _contested(
    connection: Connection, recording: str, file_name: str, readings: _Readings
) -> Iterator[TrainerDifference]:
    """Readings of one moment in two hearings of a recording."""
    found = heard_recording(connection, recording)
    starts: dict[str, float] = {}
    for first, second in choose(found.hearings, found.acts).contested:
        pair = [
            max(readings[one], key=lambda read: read[:2])[2]
            for one in (first, second)
            if one in readings
        ]
        if len(pair) == 2:
            starts = starts or _starts(connection, recording)
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


class _Knowledge:
    """Who had what when they did something. `connection` is in a transaction."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection
        self._headers: dict[str, SegmentHeader] | None = None

    def had(self, later: str, earlier: str) -> bool:
        """Whether who did the later one had the earlier one: it came in a segment that they had
        seen, or from the same device before."""
        before = self._segment(share_items.c.ref == earlier)
        return before is None or self._saw(later, before)  # or it has not been shared

    def had_hearing(self, later: str, hearing: str) -> bool:
        """The same of a hearing of the sound."""
        before = self._segment(share_items.c.id == hearing, "hearing")
        return before is None or self._saw(later, before)

    def _saw(self, later: str, segment: str) -> bool:
        after = self._segment(share_items.c.ref == later)
        if after is None:
            return True  # it has not been shared
        if self._headers is None:
            self._headers = tables.headers(self._connection)
        return segment in tables.ancestors(self._connection, [after], self._headers)

    def _segment(self, which: ColumnElement[bool], kind: str = "event") -> str | None:
        query = select(share_items.c.segment).where(share_items.c.kind == kind, which)
        return self._connection.scalar(query)
