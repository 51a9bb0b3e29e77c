"""Take in what other devices wrote, a segment at a time, each wholly or not at all.

A segment waits until all that its author had seen is here, so that nothing comes before what it
is about. What this program does not know is kept as it is and folded nowhere. What was deleted,
here or anywhere, never comes back. Two devices that took in the same segments hold the same log,
in whatever order those came.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

from pydantic import ValidationError
from sqlalchemy import Connection, delete, insert, select, update

from voicelog.model import FieldEvent, MatterEvent, Utterance
from voicelog.store import cache, event_log, matter_log, roster_versions, tombstones
from voicelog.store.commit_time import commit_time
from voicelog.store.contents import content_hash
from voicelog.store.log import Log
from voicelog.store.roster_versions import RosterVersion
from voicelog.store.schema import (
    events,
    hearing_events,
    hearings,
    hidden_events,
    profiles,
    recordings,
    share_items,
)
from voicelog.store.share import tables
from voicelog.store.share.deletions import Deletions, rows_of_event
from voicelog.store.share.hearings import Choice, Hearing, KeyedEvent, choose
from voicelog.store.share.items import (
    KNOWN_KINDS,
    ContentItem,
    DeletionItem,
    EventItem,
    HearingItem,
    Item,
    KeyItem,
    SettingsItem,
    read_item,
    typed_body,
)
from voicelog.store.share.outbox import keep_hearing
from voicelog.store.share.rows import effective_row
from voicelog.store.share.segments import SealedSegment, SegmentError

__all__ = ["Taken", "hearings_of", "refold", "take", "take_newer"]

WAITING = "waiting"
"""Kind of an event's item whose recording, or what it is about, has not come."""
NEWER = "newer"
"""Kind of an item that this program, or the one before it, did not know."""


@dataclass(slots=True)
class Taken:
    """What came of taking segments in, counted."""

    segments: int = 0
    recordings: set[str] = field(default_factory=set)
    """In which something changed."""
    newer: int = 0
    """Items that this program does not know."""
    settings: str | None = None
    """The settings that hold now, where others came."""


def take(log: Log, segment: SealedSegment, done: Taken) -> None:
    """Take a segment in, whose author had seen nothing that is not here.

    Raises:
        SegmentError: it speaks of what it cannot speak of; nothing was taken.
        LogError: as the disk refuses.
    """
    items = {item.id: item for item in segment.items}
    with log.reading() as connection:
        known = tables.known_items(connection, items)
    bodies: dict[str, Any] = {}
    for name, item in items.items():
        if (body := _known_body(item)) is not None:
            bodies[name] = body
    stones = [one for one in bodies.values() if isinstance(one, DeletionItem)]
    fresh = [one for name, one in bodies.items() if name not in known]
    deletions = Deletions(log, [one for one in stones if one in fresh])
    deletions.before()
    with log.writing() as connection:
        touched = deletions.apply(connection)
        intake = _Intake(connection, segment.header.seen, segment.id, known, touched)
        for name, item in items.items():
            intake.take(item, bodies.get(name))
        tables.add_segment(connection, segment, commit_time(log.now()), intake.newer)
        refold(connection, touched)
        done.settings = intake.settings or done.settings
    done.segments += 1
    done.recordings |= touched
    done.newer += intake.newer


def take_newer(log: Log, done: Taken) -> None:
    """Take in what an older program kept without knowing it, as far as this one does."""
    with log.writing() as connection:
        rows = connection.execute(select(share_items).where(share_items.c.kind == NEWER)).all()
        found = [(row.segment, read_item(row.line.encode())) for row in rows]
        known = []
        for segment, item in found:
            body = _known_body(item)
            if body is not None:
                known.append((segment, item, body))
        names = {item.id for _, item, _ in known}
        for row in connection.execute(select(share_items).where(share_items.c.kind == "hearing")):
            again = read_item(row.line.encode()) if row.line is not None else None
            if again is not None and not names.isdisjoint(again.body["events"]):
                known.append((row.segment, again, _known_body(again)))
        touched: set[str] = set()
        for segment, item, body in known:
            connection.execute(delete(share_items).where(share_items.c.id == item.id))
            if isinstance(body, HearingItem):
                connection.execute(delete(hearings).where(hearings.c.id == item.id))
                of_it = hearing_events.c.hearing == item.id
                connection.execute(delete(hearing_events).where(of_it))
            header = tables.headers(connection)[segment]
            intake = _Intake(connection, header.seen, segment, {}, touched)
            intake.take(item, body)
            done.settings = intake.settings or done.settings
        refold(connection, touched)
        done.recordings |= touched


def _known_body(item: Item) -> Any:
    """The body of an item as this program knows it, None where it does not."""
    if item.gone or item.kind not in KNOWN_KINDS:
        return None
    try:
        return typed_body(item)
    except ValidationError:
        return None


class _Intake:
    """Puts the items of a segment into the log."""

    def __init__(
        self,
        connection: Connection,
        seen: Sequence[str],
        segment: str,
        known: Mapping[str, Mapping[str, Any]],
        touched: set[str],
    ) -> None:
        self._connection, self._seen, self._segment = connection, seen, segment
        self._known, self._touched = known, touched
        self.newer = 0
        self.settings: str | None = None

    def take(self, item: Item, body: Any) -> None:
        """Take one item in."""
        if item.id in self._known:
            if isinstance(body, EventItem) and item.at:
                self._earlier(item, self._known[item.id])
            return
        match body:
            case EventItem() if not item.at:  # without a time it has no place
                self._later(item)
            case EventItem(heard=True):
                self._add(item, None, keep=True)
            case EventItem():
                self._person(item, body)
            case HearingItem():
                self._hearing(item, body)
            case ContentItem():
                self._content(item, body)
            case RosterVersion():
                self._add(item, self._profile(body))
            case MatterEvent():
                matter_log.take(self._connection, [body])
                self._add(item, body.id)
            case DeletionItem() | KeyItem():
                self._add(item, None, keep=True)
            case SettingsItem():
                self._settings(item, body)
            case _:
                self._later(item)

    def _add(self, item: Item, ref: str | None, *, keep: bool = False) -> None:
        tables.add_item(self._connection, item, self._segment, ref, keep=keep)

    def _keep_as(self, kind: str, item: Item) -> None:
        """Keep the whole of an item that has no row yet."""
        self._add(item.model_copy(update={"kind": kind}), None)
        tables.keep_line(self._connection, item)

    def _later(self, item: Item) -> None:
        """What only a later program knows is kept for it."""
        if item.gone:
            self._add(item, None)
            return
        self.newer += 1
        self._keep_as(NEWER, item)

    def _earlier(self, item: Item, known: Mapping[str, Any]) -> None:
        """Another device made the same: it was committed when the first of them committed it."""
        if known["line"] is not None:
            before = read_item(known["line"].encode())
            if item.at < before.at:
                same = share_items.c.id == item.id
                self._connection.execute(update(share_items).where(same).values(line=item.line()))
        elif known["ref"] is not None:
            self._lower(known["ref"], item.at)

    def _lower(self, key: str, at: str) -> None:
        later = (events.c.id == key) & (events.c.committed_at > at)
        names = select(events.c.recording).where(later)
        self._touched.update(self._connection.scalars(names))
        self._connection.execute(update(events).where(later).values(committed_at=at))

    def _person(self, item: Item, body: EventItem) -> None:
        """What a person did, or what happened around the sound."""
        match self._place(body, self._seen):
            case "stands":
                self._add(item, self._put(item, body))
                self._touched.add(body.recording)
            case "deleted":
                self._add(item, None)
            case "waits":
                self._keep_as(WAITING, item)

    def _place(self, body: EventItem, seen: Sequence[str]) -> Literal["stands", "deleted", "waits"]:
        """Whether an event may be put in, whose author had seen those segments: it waits for the
        recording and for what it is about, and goes where one of them was deleted."""
        connection, event = self._connection, body.event
        if tombstones.since(connection, "recording", body.recording) is not None:
            return "deleted"
        about = event_log.about(event)
        if tombstones.find(connection, "event", [event.id, about or event.id]):
            return "deleted"
        here = select(recordings.c.id).where(recordings.c.id == body.recording)
        if connection.scalar(here) is None:
            return "waits"
        at = event.start_s if isinstance(event, Utterance) else None
        at = event.at_s if isinstance(event, FieldEvent) else at
        spans = tombstones.stretches(connection, body.recording, "span")
        if at is not None and any(start <= at < end for start, end in spans):
            return "stands" if self._knew_of_deletion(body.recording, at, seen) else "deleted"
        return "stands" if about is None or rows_of_event(connection, about) else "waits"

    def _retry(self, recording: str) -> None:
        """Put in what waited for a recording, as long as there is any."""
        connection = self._connection
        query = select(share_items).where(share_items.c.kind == WAITING)
        again = True
        while again:
            again = False
            for row in connection.execute(query).all():
                item = read_item(row.line.encode())
                body = typed_body(item)
                if not isinstance(body, EventItem) or body.recording != recording:
                    continue
                place = self._place(body, tables.seen_by(connection, row.segment))
                if place == "waits":
                    continue
                ref = self._put(item, body) if place == "stands" else None
                tables.settle_item(connection, item.id, ref)
                again = True

    def _knew_of_deletion(self, recording: str, at_s: float, seen: Sequence[str]) -> bool:
        """Whether the author put something into a stretch after it was deleted: then it stands."""
        before = tables.ancestors(self._connection, seen)
        kind = share_items.c.kind == "deletion"
        query = select(share_items.c.segment, share_items.c.line).where(kind)
        for row in self._connection.execute(query.where(share_items.c.line.is_not(None))):
            stone = read_item(row.line.encode()).body
            inside = stone["kind"] == "span" and stone["id"] == recording
            if inside and stone["from_s"] <= at_s < stone["to_s"] and row.segment not in before:
                return False
        return True

    def _put(self, item: Item, body: EventItem) -> str:
        """The id of the row of an event, which is put in where it is not there."""
        connection, event = self._connection, body.event
        text = event_log.event_json(event)
        for key in (event.id, event_log.variant(event)):
            row = connection.execute(select(events).where(events.c.id == key)).first()
            if row is None:
                event_log.put(
                    connection,
                    event.model_copy(update={"id": key}),
                    text,
                    body.recording,
                    item.at,
                )
                return key
            if row.recording == body.recording and event_log.read(row.body) == event:
                self._lower(key, item.at)
                return key
        raise SegmentError(self._segment[:12], "an event of it has an id that is taken")

    def _hearing(self, item: Item, body: HearingItem) -> None:
        connection = self._connection
        stone = tombstones.since(connection, "recording", body.recording)
        if stone is not None:
            self._add(item, None)
            return
        row = {**body.row, "id": body.recording}
        try:
            whole = effective_row(connection, row)
            if set(row) != {c.name for c in recordings.c} - {"seq", "sound", "complete"}:
                raise ValueError("other columns")
        except (ValueError, LookupError, TypeError, AttributeError, OverflowError):
            self._later(item)
            return
        here = select(recordings.c.id).where(recordings.c.id == body.recording)
        if connection.scalar(here) is None:
            new = {**whole, "sound": None, "complete": True}
            connection.execute(insert(recordings).values(new))
        members: dict[str, str] = {}
        known = tables.known_items(connection, body.events)
        for one in body.events:
            there = known.get(one)
            if there is None:
                raise SegmentError(self._segment[:12], "it names what has not come")
            key = self._member(there, body.recording)
            if key is not None:
                members[key] = one
        self._add(item, item.id, keep=True)
        same = select(hearings.c.id).where(hearings.c.id == item.id)
        if connection.scalar(same) is None:
            keep_hearing(
                connection,
                item.id,
                body.recording,
                body.root,
                body.depth,
                body.row,
                members,
                shown=False,
            )
        self._touched.add(body.recording)
        self._retry(body.recording)

    def _member(self, there: Mapping[str, Any], recording: str) -> str | None:
        """The row of an event that a hearing names, put in where it only waited; None where it
        is not to be there."""
        if there["kind"] != "event":
            return None
        if there["line"] is None:
            return None if there["ref"] is None else str(there["ref"])
        item = read_item(there["line"].encode())
        try:
            body = typed_body(item)
        except ValidationError:
            return None
        if not isinstance(body, EventItem) or body.recording != recording:
            return None
        if self._is_deleted(body):
            tables.settle_item(self._connection, item.id, None)
            return None
        key = self._put(item, body)
        tables.settle_item(self._connection, item.id, key)
        return key

    def _is_deleted(self, body: EventItem) -> bool:
        connection, event = self._connection, body.event
        name = {event.id, event_log.about(event) or event.id}
        if tombstones.find(connection, "event", name):
            return True
        if isinstance(event, Utterance):
            spans = tombstones.stretches(connection, body.recording, "span")
            return any(start <= event.start_s < end for start, end in spans)
        return False

    def _content(self, item: Item, body: ContentItem) -> None:
        name = content_hash(body.body)
        self._add(item, name, keep=True)

    def _profile(self, version: RosterVersion) -> str | None:
        connection = self._connection
        if version.kind == "dog":
            since = tombstones.since(connection, "dog", tombstones.dog_id(version.name))
            if since is not None and version.put_at <= since:
                return None
        spelt = roster_versions.spellings(connection)
        roster_versions.take(connection, version)
        now = roster_versions.spellings(connection)
        cache.drop_dogs(connection, [name for key, name in spelt.items() if now[key] != name])
        query = select(profiles.c.seq).where(
            profiles.c.kind == version.kind,
            profiles.c.name == version.name,
            profiles.c.put_at == version.put_at,
        )
        return str(connection.scalar(query))

    def _settings(self, item: Item, body: SettingsItem) -> None:
        self._add(item, None, keep=True)
        connection = self._connection
        held = (
            int(tables.get(connection, "settings_turn") or 0),
            tables.get(connection, "settings_text") or "",
        )
        if (body.turn, body.text) > held:
            tables.put(connection, "settings_turn", str(body.turn))
            tables.put(connection, "settings_text", body.text)
            self.settings = body.text


# --- what is shown ----------------------------------------------------------------------


def refold(connection: Connection, touched: Iterable[str], *, came: bool = True) -> None:
    """Choose anew what is shown of these recordings, where they were heard for a share. `came`:
    something of them came, so that what was derived does not hold any more in any case."""
    for name in sorted(touched):
        here = connection.execute(select(recordings).where(recordings.c.id == name)).mappings()
        row = here.first()
        if came:
            cache.put(connection, name, [])
        if row is None or not row["complete"]:
            continue
        try:
            found, people = hearings_of(connection, name)
            if found and _show(connection, name, dict(row), choose(found, people)):
                cache.put(connection, name, [])
        except ValueError:  # an event or a row that cannot be read sets the recording aside
            continue


def hearings_of(connection: Connection, recording: str) -> tuple[list[Hearing], list[KeyedEvent]]:
    """The hearings of a recording, and what people did in it.
    `connection` is in a transaction.

    Raises:
        ValueError: an event cannot be read.
    """
    query = select(events.c.id, events.c.committed_at, events.c.body)
    told = {
        row.id: (row.committed_at, event_log.read(row.body))
        for row in connection.execute(query.where(events.c.recording == recording))
    }
    found: list[Hearing] = []
    keys: set[str] = set()
    of_it = select(hearings).where(hearings.c.recording == recording)
    for one in connection.execute(of_it.order_by(hearings.c.id)).all():
        members = select(hearing_events.c.event, hearing_events.c.item)
        heard = tuple(
            KeyedEvent(row.event, row.item, *told[row.event])
            for row in connection.execute(members.where(hearing_events.c.hearing == one.id))
            if row.event in told
        )
        keys.update(event.key for event in heard)
        found.append(Hearing(one.id, one.root or one.id, one.depth, heard))
    people = [
        KeyedEvent(key, event.id, at, event)
        for key, (at, event) in told.items()
        if key not in keys and not isinstance(event, FieldEvent)
    ]
    return found, people


def _show(
    connection: Connection,
    recording: str,
    row: Mapping[str, Any],
    choice: Choice,
) -> bool:
    """Show what was chosen; whether that is another than before."""
    of_recording = select(events.c.id).where(events.c.recording == recording)
    hidden = select(hidden_events.c.id).where(hidden_events.c.id.in_(of_recording))
    before = set(connection.scalars(hidden))
    for key in before - choice.hidden:
        connection.execute(delete(hidden_events).where(hidden_events.c.id == key))
    if fresh := choice.hidden - before:
        connection.execute(insert(hidden_events), [{"id": key} for key in sorted(fresh)])
    of_it = hearings.c.recording == recording
    connection.execute(update(hearings).where(of_it).values(shown=hearings.c.id == choice.shown))
    text = connection.scalar(select(hearings.c.row).where(hearings.c.id == choice.shown))
    wanted = effective_row(connection, json.loads(text or "{}") | {"id": recording})
    other = any(row[name] != value for name, value in wanted.items())
    if other:
        same = recordings.c.id == recording
        connection.execute(update(recordings).where(same).values(wanted))
    return other or before != choice.hidden
