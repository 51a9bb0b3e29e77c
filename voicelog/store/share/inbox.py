"""Take in what other devices wrote, a segment at a time, each wholly or not at all.

A segment waits until all that its author had seen is here, so that nothing comes before what it
is about. What this program does not know is kept as it is and folded nowhere. What was deleted,
here or anywhere, never comes back. Two devices that took in the same segments hold the same log,
in whatever order those came.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

from sqlalchemy import Connection, delete, insert, or_, select, update

from voicelog.model import FieldEvent, MatterEvent, Utterance
from voicelog.store import cache, event_log, matter_log, roster_versions, tombstones
from voicelog.store.commit_time import commit_time
from voicelog.store.contents import content_hash
from voicelog.store.log import Log
from voicelog.store.roster_versions import RosterVersion
from voicelog.store.schema import hearing_events, hearings, profiles, recordings, share_items
from voicelog.store.share import tables
from voicelog.store.share.deletions import Deletions
from voicelog.store.share.event_rows import EventRows
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
from voicelog.store.share.rows import RowCache, effective_row
from voicelog.store.share.segments import SealedSegment, SegmentError
from voicelog.store.share.showing import Trial, refold

__all__ = ["WAITING", "Taken", "deletes", "take_batch", "take_newer"]

WAITING = "waiting"
"""Kind of an event's item whose recording, or what it is about, has not come; its row's `ref` is
the recording."""


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


def take_batch(
    log: Log, segments: Sequence[SealedSegment], done: Taken, trial: Trial
) -> dict[str, SegmentError]:
    """Take segments in, each of whose authors had seen nothing that is not here or before it in
    the batch, in one transaction; what changed is derived on trial before that is committed.

    Where one of them deletes something, it is alone (`deletes`).

    Returns:
        Those that speak of what they cannot speak of, by id; nothing of them was taken, nor of
        those whose author had seen one of them.

    Raises:
        LogError: as the disk refuses.
    """
    bad: dict[str, SegmentError] = {}
    touched: set[str] = set()
    fresh: list[DeletionItem] = []
    for segment in segments:
        fresh += _fresh_deletions(log, segment)
    deletions = Deletions(log, fresh)
    deletions.before()
    with log.writing() as connection:
        touched |= deletions.apply(connection)
        rows = RowCache(connection)
        for segment in segments:
            if not bad.keys().isdisjoint(segment.header.seen):
                continue
            point = connection.begin_nested()
            try:
                intake = _Intake(connection, segment.header.seen, segment.id, rows)
                intake.take_all(segment.items)
                tables.add_segment(connection, segment, commit_time(log.now()), intake.newer)
            except SegmentError as error:
                point.rollback()
                rows = RowCache(connection)  # what it had put in is gone
                bad[segment.id] = error
                continue
            point.commit()
            touched |= intake.touched
            done.segments += 1
            done.newer += intake.newer
            done.settings = intake.settings or done.settings
        refold(connection, touched, trial, rows)
    done.recordings |= touched
    return bad


def deletes(segment: SealedSegment) -> bool:
    """Whether a segment deletes something."""
    return any(item.kind == "deletion" for item in segment.items)


def _fresh_deletions(log: Log, segment: SealedSegment) -> list[DeletionItem]:
    found = [item for item in segment.items if item.kind == "deletion"]
    if not found:
        return []
    with log.reading() as connection:
        known = tables.known_items(connection, [item.id for item in found])
    bodies = [_known_body(item) for item in found if item.id not in known]
    return [one for one in bodies if isinstance(one, DeletionItem)]


def take_newer(log: Log, done: Taken, trial: Trial) -> None:
    """Take in what an older program kept without knowing it, as far as this one does."""
    with log.writing() as connection:
        rows = connection.execute(
            select(share_items).where(share_items.c.kind == tables.NEWER)
        ).all()
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
        headers = tables.headers(connection) if known else {}
        cache_of_rows = RowCache(connection)
        for segment, item, body in known:
            connection.execute(delete(share_items).where(share_items.c.id == item.id))
            if isinstance(body, HearingItem):
                connection.execute(delete(hearings).where(hearings.c.id == item.id))
                of_it = hearing_events.c.hearing == item.id
                connection.execute(delete(hearing_events).where(of_it))
            intake = _Intake(connection, headers[segment].seen, segment, cache_of_rows)
            intake.take_all([item])
            touched |= intake.touched
            done.settings = intake.settings or done.settings
        refold(connection, touched, trial, cache_of_rows)
        done.recordings |= touched


def _known_body(item: Item) -> Any:
    """The body of an item as this program knows it, None where it does not."""
    if item.gone or item.kind not in KNOWN_KINDS:
        return None
    try:
        body = typed_body(item)
        if isinstance(body, RosterVersion):
            roster_versions.check(body)
        return body
    except ValueError:
        return None


_Place = Literal["stands", "deleted", "waits"]


class _Intake:
    """Puts the items of a segment into the log, whose author had seen the segments `seen`.

    Rows are looked up for all of them at once, and put in at once at the end: a segment may have
    tens of thousands. An event that was heard waits in memory for its hearing, which is often in
    the same segment.
    """

    def __init__(
        self, connection: Connection, seen: Sequence[str], segment: str, rows: RowCache
    ) -> None:
        self._connection, self._seen, self._segment = connection, seen, segment
        self._rows = rows
        self.touched: set[str] = set()
        self.newer = 0
        self.settings: str | None = None
        self._heard: dict[str, tuple[Item, EventItem]] = {}
        """Events that were heard, by item, of which no hearing has come."""
        self._made: dict[str, str | None] = {}
        """The rows of events that came with this segment, by item; None where it may not be."""
        self._events = EventRows(connection)
        self._facts: dict[str, _RecordingFacts] = {}
        self._spelt: dict[str, str] | None = None

    def take_all(self, items: Sequence[Item]) -> None:
        """Take items in, in their order.

        Raises:
            SegmentError: one speaks of what it cannot speak of.
        """
        whole = {item.id: item for item in items}
        known = tables.known_items(self._connection, whole)
        bodies = {name: _known_body(item) for name, item in whole.items() if name not in known}
        self._events.fetch(
            [one.event for one in bodies.values() if isinstance(one, EventItem)],
        )
        for name, item in whole.items():
            if name in known:
                if item.kind == "event" and item.at and isinstance(_known_body(item), EventItem):
                    self._earlier(item, known[name])
            else:
                self._take(item, bodies[name])
        for item, _ in self._heard.values():
            self._add(item, None, keep=True)
        self._events.write()
        tables.add_items(
            self._connection,
            [(whole[name], ref) for name, ref in self._made.items()],
            self._segment,
        )
        if self._spelt is not None:
            now = roster_versions.spellings(self._connection)
            other = [name for key, name in self._spelt.items() if now[key] != name]
            cache.drop_dogs(self._connection, other)

    def _take(self, item: Item, body: Any) -> None:
        match body:
            case EventItem() if not item.at:  # without a time it has no place
                self._later(item)
            case EventItem(heard=True):
                self._heard[item.id] = item, body
            case EventItem():
                self._person(item, body)
            case HearingItem():
                self._hearing(item, body)
            case ContentItem():
                self._add(item, content_hash(body.body), keep=True)
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

    def _keep_as(self, kind: str, item: Item, ref: str | None = None) -> None:
        """Keep the whole of an item that has no row yet."""
        self._add(item.model_copy(update={"kind": kind}), ref)
        tables.keep_line(self._connection, item)

    def _later(self, item: Item) -> None:
        """What only a later program knows is kept for it."""
        if item.gone:
            self._add(item, None)
            return
        self.newer += 1
        self._keep_as(tables.NEWER, item)

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
        if (recording := self._events.lower(key, at)) is not None:
            self.touched.add(recording)

    # --- events of people -----------------------------------------------------------------

    def _person(self, item: Item, body: EventItem) -> None:
        """What a person did, or what happened around the sound."""
        match self._place(body, self._seen):
            case "stands":
                self._made[item.id] = self._put(item, body)
                self.touched.add(body.recording)
            case "deleted":
                self._made[item.id] = None
            case "waits":
                self._keep_as(WAITING, item, body.recording)

    def _place(self, body: EventItem, seen: Sequence[str]) -> _Place:
        """Whether an event may be put in, whose author had seen those segments: it waits for the
        recording and for what it is about, and goes where one of them was deleted."""
        event, about = body.event, event_log.about(body.event)
        facts = self._facts_of(body.recording)
        if facts.deleted or self._events.is_gone(event.id, about):
            return "deleted"
        if not facts.here:
            return "waits"
        at = event.start_s if isinstance(event, Utterance) else None
        at = event.at_s if isinstance(event, FieldEvent) else at
        if at is not None and facts.covers(at):
            return "stands" if self._knew_of_deletion(body.recording, at, seen) else "deleted"
        return "stands" if about is None or self._events.has(about) else "waits"

    def _facts_of(self, recording: str) -> _RecordingFacts:
        if recording not in self._facts:
            connection = self._connection
            here = select(recordings.c.id).where(recordings.c.id == recording)
            self._facts[recording] = _RecordingFacts(
                deleted=tombstones.since(connection, "recording", recording) is not None,
                here=connection.scalar(here) is not None,
                spans=tombstones.stretches(connection, recording, "span"),
            )
        return self._facts[recording]

    def _retry(self, recording: str) -> None:
        """Put in what waited for a recording, as long as there is any."""
        connection = self._connection
        of_it = or_(share_items.c.ref == recording, share_items.c.ref.is_(None))
        waits = share_items.c.line.is_not(None)  # and was not deleted meanwhile
        query = select(share_items).where(share_items.c.kind == WAITING, of_it, waits)
        left: list[tuple[str, Item, EventItem]] = []
        for row in connection.execute(query).all():
            item = read_item(row.line.encode())
            body = typed_body(item)
            if isinstance(body, EventItem) and body.recording == recording:
                left.append((row.segment, item, body))
        self._events.fetch([body.event for _, _, body in left])
        again = True
        while again:
            again, waiting, left = False, left, []
            for segment, item, body in waiting:
                place = self._place(body, tables.seen_by(connection, segment))
                if place == "waits":
                    left.append((segment, item, body))
                    continue
                ref = self._put(item, body) if place == "stands" else None
                tables.settle_item(connection, item.id, ref)
                again = True

    def _knew_of_deletion(self, recording: str, at_s: float, seen: Sequence[str]) -> bool:
        """Whether the author put something into a stretch after it was deleted: then it stands."""
        before: set[str] | None = None
        kind = share_items.c.kind == "deletion"
        query = select(share_items.c.segment, share_items.c.line).where(kind)
        for row in self._connection.execute(query.where(share_items.c.line.is_not(None))):
            stone = read_item(row.line.encode()).body
            inside = stone["kind"] == "span" and stone["id"] == recording
            if inside and stone["from_s"] <= at_s < stone["to_s"]:
                before = tables.ancestors(self._connection, seen) if before is None else before
                if row.segment not in before:
                    return False
        return True

    def _put(self, item: Item, body: EventItem) -> str:
        """The id of the row of an event, which is put in where it is not there."""
        key = self._events.put(body.recording, body.event, item.at)
        if key is None:
            raise SegmentError(self._segment[:12], "an event of it has an id that is taken")
        if (recording := self._events.lower(key, item.at)) is not None:
            self.touched.add(recording)
        return key

    # --- hearings -------------------------------------------------------------------------

    def _hearing(self, item: Item, body: HearingItem) -> None:
        connection = self._connection
        if self._facts_of(body.recording).deleted:
            self._add(item, None)
            return
        row = {**body.row, "id": body.recording}
        try:
            whole = effective_row(row, self._rows).values
            if set(row) != {c.name for c in recordings.c} - {"seq", "sound", "complete"}:
                raise ValueError("other columns")
        except (ValueError, LookupError, TypeError, AttributeError, OverflowError):
            self._later(item)
            return
        if not self._facts_of(body.recording).here:
            new = {**whole, "sound": None, "complete": True}
            connection.execute(insert(recordings).values(new))
            del self._facts[body.recording]
        members = self._members(body)
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
        self.touched.add(body.recording)
        self._retry(body.recording)

    def _members(self, body: HearingItem) -> dict[str, str]:
        """The rows of the events that a hearing names, each with its item; those are put in that
        only waited for it."""
        members: dict[str, str] = {}
        elsewhere = [one for one in body.events if one not in self._made and one not in self._heard]
        known = tables.known_items(self._connection, elsewhere)
        waiting: dict[str, tuple[Item, EventItem]] = {}
        for one in body.events:
            if one in self._made:
                key = self._made[one]
                if key is not None:
                    members[key] = one
            elif one in self._heard:
                if self._heard[one][1].recording == body.recording:
                    waiting[one] = self._heard.pop(one)
            elif one not in known:
                raise SegmentError(self._segment[:12], "it names what has not come")
            elif known[one]["kind"] == "event":
                if known[one]["line"] is not None:
                    there = read_item(known[one]["line"].encode())
                    event = _known_body(there)
                    if isinstance(event, EventItem) and event.recording == body.recording:
                        waiting[one] = there, event
                elif known[one]["ref"] is not None:
                    members[str(known[one]["ref"])] = one
        self._events.fetch([event.event for _, event in waiting.values()])
        settled: list[tuple[str, str | None]] = []
        for one, (item, event) in waiting.items():
            key = None if self._is_deleted(event) else self._put(item, event)
            if key is not None:
                members[key] = one
            if one in known:
                settled.append((one, key))
            else:
                self._made[one] = key
        tables.settle_items(self._connection, settled)
        return members

    def _is_deleted(self, body: EventItem) -> bool:
        event = body.event
        if self._events.is_gone(event.id, event_log.about(event)):
            return True
        return isinstance(event, Utterance) and self._facts_of(body.recording).covers(event.start_s)

    # --- what is no event -------------------------------------------------------------------

    def _profile(self, version: RosterVersion) -> str | None:
        connection = self._connection
        if version.kind == "dog":
            since = tombstones.since(connection, "dog", tombstones.dog_id(version.name))
            if since is not None and version.put_at <= since:
                return None
        if self._spelt is None:
            self._spelt = roster_versions.spellings(connection)
        roster_versions.take(connection, version)
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


@dataclass(frozen=True, slots=True)
class _RecordingFacts:
    """Of a recording: whether it was deleted, whether it is here, and which stretches of it (s)
    were deleted."""

    deleted: bool
    here: bool
    spans: tuple[tombstones.TimeInterval, ...]

    def covers(self, at_s: float) -> bool:
        """Whether a moment lies in a deleted stretch."""
        return any(start <= at_s < end for start, end in self.spans)
