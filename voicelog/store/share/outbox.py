"""What is new in a log goes into segments: first into the database, then into files.

A segment's number, header and items are settled in one transaction. Its file is made from the rows
that the items stand for, then or at any time later: a crash between, a file that was lost or is
damaged, and text that was deleted meanwhile are all mended by writing it again.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, delete, insert, select, update

from voicelog import __version__
from voicelog.model import Event, MatterEvent, Reading, Utterance, Verdict
from voicelog.store import event_log
from voicelog.store import tombstones as tombstones_of
from voicelog.store.commit_time import commit_time
from voicelog.store.errors import translate_errors
from voicelog.store.log import Log
from voicelog.store.roster_versions import RosterVersion
from voicelog.store.schema import (
    events,
    hearing_events,
    hearings,
    hidden_events,
    matter_events,
    profiles,
    recordings,
    share_items,
    share_segments,
    tombstones,
)
from voicelog.store.share import tables
from voicelog.store.share.admission import pending_keys
from voicelog.store.share.deletions import drop_events
from voicelog.store.share.hearings import made_by_machine
from voicelog.store.share.items import Item, event_body, make_item, read_item
from voicelog.store.share.place import SegmentFile, SharePlace
from voicelog.store.share.rows import content_items, row_of
from voicelog.store.share.segments import SealedSegment, SegmentHeader, split

__all__ = ["Author", "regenerated", "seal", "write_missing"]

LARGEST_TEXT = 1 << 20
"""Bytes of text in a segment, about."""
_NEW_LINKS = """
SELECT seq, kind, ref FROM chain WHERE seq > ? AND NOT (
    kind = 'event' AND EXISTS (
        SELECT 1 FROM events JOIN share_items AS known
        ON known.kind = 'event' AND known.ref = events.id
        WHERE events.seq = chain.ref
    )
) ORDER BY seq
"""
"""Links of the chain, without those of events that are shared: millions, for one who joins."""
_TRAVELS = ("event", "recording", "span", "hush", "dog", "matter")
"""Kinds of tombstones that mean something on other devices."""


@dataclass(frozen=True, slots=True)
class Author:
    """Which device of which kennel writes, and what people call it."""

    kennel: str
    device: str
    name: str = ""


@dataclass(slots=True)
class _Batch:
    """What goes out, in an order in which nothing comes before what it is about."""

    items: list[tuple[Item, str | None]] = field(default_factory=list)
    """Each with the row that it stands for."""
    kept: set[str] = field(default_factory=set)
    """Ids of those that are kept as they are, since the row may go."""
    touched: set[str] = field(default_factory=set)
    """Recordings of which something goes out."""
    first_pending: int | None = None
    """The first link of the chain that cannot go out yet."""

    def add(self, item: Item, ref: str | None, *, keep: bool = False) -> None:
        self.items.append((item, ref))
        if keep:
            self.kept.add(item.id)


def seal(log: Log, author: Author, settings: str | None = None) -> tuple[int, set[str]]:
    """Make segments of all that is new in a log since the last time; how many those are, and the
    recordings of which something is in them, for which is to be chosen anew what is shown.

    `settings` is the text of its settings file, None where there is none.
    """
    with log.writing() as connection:
        since = int(tables.get(connection, "sealed_link") or 0)
        last = connection.exec_driver_sql("SELECT max(seq) FROM chain").scalar() or since
        batch = _Batch()
        refs: dict[str, dict[int, int]] = defaultdict(dict)
        for seq, kind, ref in connection.exec_driver_sql(_NEW_LINKS, (since,)):
            refs[kind].setdefault(ref, seq)
        _recordings(connection, refs["recording"], refs["event"], batch, log.now())
        _profiles(connection, refs["profile"], batch)
        _matters(connection, refs["matter"], batch)
        _tombstones(connection, refs["tombstone"], batch)
        if settings is not None:
            _settings(connection, settings, batch)
        for told in pending_keys(connection):
            batch.add(make_item("key", told.model_dump()), None, keep=True)
        count = _make_segments(log, connection, author, batch)
        if batch.first_pending is not None:
            last = batch.first_pending - 1
        tables.put(connection, "sealed_link", str(last))
    return count, batch.touched


def write_missing(log: Log, place: SharePlace, author: Author) -> int:
    """Write those segments of this device that are not in its folder as they are now; how many
    files those were.

    Raises:
        LogError: as the disk refuses.
    """
    files: dict[str, list[SegmentFile]] = defaultdict(list)
    for file in place.own_files(author.device):
        if file.id is not None:
            files[file.id].append(file)
    with log.reading() as connection:
        query = select(share_segments.c.id).where(share_segments.c.device == author.device)
        missing = [one for one in connection.scalars(query) if one not in files]
    for one in missing:
        with log.reading() as connection:
            segment = regenerated(connection, one)
        place.write(segment, author.device)
    _drop_older(log, place, author, files)
    return len(missing)


def _drop_older(
    log: Log, place: SharePlace, author: Author, files: Mapping[str, list[SegmentFile]]
) -> None:
    """Of a segment that has two files, as when a stick brings one back from before a deletion, keep
    what it is now."""
    for one, some in files.items():
        if len(some) < 2:
            continue
        with log.reading() as connection:
            if one not in tables.segment_ids(connection, [one]):
                continue
            segment = regenerated(connection, one)
        path = place.write(segment, author.device)
        for file in some:
            if file.path != path:
                with translate_errors(file.path):
                    file.path.unlink(missing_ok=True)


def regenerated(connection: Connection, identity: str) -> SealedSegment:
    """A segment as it is to be written now, made from the log's rows.

    `connection` is in a transaction, `identity` that of a segment that is known.
    """
    query = select(share_segments.c.header, share_segments.c.item_ids)
    row = connection.execute(query.where(share_segments.c.id == identity)).one()
    known = tables.known_items(connection, row.item_ids)
    items = tuple(_made(connection, one, known.get(one)) for one in row.item_ids)
    return SealedSegment(header=SegmentHeader.model_validate_json(row.header), items=items)


# --- what is new ------------------------------------------------------------------------


def _recordings(
    connection: Connection,
    changed: Mapping[int, int],
    told: Mapping[int, int],
    batch: _Batch,
    now: datetime,
) -> None:
    first: dict[str, int] = {}
    for table, refs, column in (
        (recordings, changed, recordings.c.id),
        (events, told, events.c.recording),
    ):
        wanted = list(refs)
        for start in range(0, len(wanted), tables.AT_ONCE):
            some = table.c.seq.in_(wanted[start : start + tables.AT_ONCE])
            for seq, name in connection.execute(select(table.c.seq, column).where(some)):
                first[name] = min(refs[seq], first.get(name, refs[seq]))
    for name in sorted(first, key=lambda one: first[one]):
        row = row_of(connection, name)
        if row is not None and _is_all_out(connection, name, row):
            continue
        if row is not None:
            _drop_deleted(connection, name, now)
        fresh = _readable_events(connection, name) if row is not None else None
        if row is None or fresh is None:
            batch.first_pending = min(first[name], batch.first_pending or first[name])
            continue
        _recording(connection, name, row, fresh, batch)


def _is_all_out(connection: Connection, recording: str, row: Mapping[str, Any]) -> bool:
    """Whether a recording is shown as it is shared, with no event that is not: without reading
    any, as for all that has just come."""
    shown = select(hearings.c.row).where(hearings.c.recording == recording, hearings.c.shown)
    text = connection.scalar(shown)
    if text is None or json.loads(text) != row:
        return False
    known = select(share_items.c.id).where(
        share_items.c.kind == "event", share_items.c.ref == events.c.id
    )
    fresh = select(events.c.id).where(events.c.recording == recording, ~known.exists())
    return connection.scalar(fresh.limit(1)) is None


def _drop_deleted(connection: Connection, recording: str, at: datetime) -> None:
    """What a machine heard here in a stretch that was deleted elsewhere before goes."""
    spans = tombstones_of.stretches(connection, recording, "span")
    if not spans:
        return
    query = select(events.c.id, events.c.body).where(events.c.recording == recording)
    told = {row.id: event_log.read(row.body) for row in connection.execute(query)}
    judged = {event.utterance for event in told.values() if isinstance(event, Verdict)}
    known = tables.known_refs(connection, "event", told)
    lost = [
        key
        for key, event in told.items()
        if isinstance(event, Utterance)
        and event.id in judged
        and key not in known
        and any(start <= event.start_s < end for start, end in spans)
    ]
    drop_events(connection, lost, at)


def _readable_events(connection: Connection, recording: str) -> list[tuple[str, str, Event]] | None:
    """Id of the row, time of commit and event, of all events of a recording that are shown, in
    their order; None where one cannot be read."""
    query = (
        select(events.c.id, events.c.committed_at, events.c.body)
        .where(events.c.recording == recording, events.c.id.not_in(select(hidden_events.c.id)))
        .order_by(events.c.committed_at, events.c.body)
    )
    try:
        rows = connection.execute(query)
        return [(row.id, row.committed_at, event_log.read(row.body)) for row in rows]
    except ValueError:
        return None


def _recording(
    connection: Connection,
    recording: str,
    row: dict[str, Any],
    told: Sequence[tuple[str, str, Event]],
    batch: _Batch,
) -> None:
    judged = {
        event.utterance
        for _, _, event in told
        if isinstance(event, Verdict) or (isinstance(event, Reading) and event.by == "listener")
    }
    known = tables.known_refs(connection, "event", (key for key, _, _ in told))
    machine: list[tuple[str, Item]] = []
    people: list[tuple[str, Item]] = []
    for key, at, event in told:
        if key in known:
            continue
        heard = made_by_machine(event, judged)
        item = make_item("event", event_body(recording, event, heard=heard), at)
        (machine if heard else people).append((key, item))
    _hearing(connection, recording, row, machine, batch)
    for key, item in people:
        batch.add(item, key)
    if people:
        batch.touched.add(recording)


def _hearing(
    connection: Connection,
    recording: str,
    row: dict[str, Any],
    machine: Sequence[tuple[str, Item]],
    batch: _Batch,
) -> None:
    """A hearing for what is new of it, or for its row where that is not as it was."""
    of_it = hearings.c.recording == recording
    shown = connection.execute(select(hearings).where(of_it, hearings.c.shown)).first()
    if shown is not None and not machine and json.loads(shown.row) == row:
        return
    batch.touched.add(recording)
    before: list[tuple[str, str]] = []
    root, depth = None, 0
    if shown is not None:
        query = select(hearing_events.c.event, hearing_events.c.item)
        before = [
            (one.event, one.item)
            for one in connection.execute(query.where(hearing_events.c.hearing == shown.id))
        ]
        root, depth = shown.root or shown.id, shown.depth + 1
    for name, item in content_items(connection, row):
        batch.add(item, name, keep=True)
    for key, item in machine:
        batch.add(item, key)
    members = dict(before) | {key: item.id for key, item in machine}
    told = sorted(set(members.values()))
    body: dict[str, Any] = {"recording": recording, "row": row, "events": told}
    if root is not None:
        body |= {"root": root, "depth": depth}
    item = make_item("hearing", body)
    batch.add(item, item.id, keep=True)
    connection.execute(update(hearings).where(of_it).values(shown=False))
    same = hearings.c.id == item.id
    if connection.scalar(select(hearings.c.id).where(same)) is not None:
        connection.execute(update(hearings).where(same).values(shown=True))
        return
    keep_hearing(connection, item.id, recording, root, depth, row, members, shown=True)


def keep_hearing(
    connection: Connection,
    identity: str,
    recording: str,
    root: str | None,
    depth: int,
    row: Mapping[str, Any],
    members: Mapping[str, str],
    *,
    shown: bool,
) -> None:
    """Remember a hearing; `members` are its events: the ids of rows, each with its item's id."""
    connection.execute(
        insert(hearings).values(
            id=identity,
            recording=recording,
            root=root,
            depth=depth,
            row=json.dumps(row),
            shown=shown,
        )
    )
    if members:
        connection.execute(
            insert(hearing_events),
            [{"hearing": identity, "event": key, "item": item} for key, item in members.items()],
        )


def _profiles(connection: Connection, refs: Iterable[int], batch: _Batch) -> None:
    known = tables.known_refs(connection, "profile", map(str, refs))
    fields = RosterVersion.model_fields
    for row in _rows(connection, profiles, refs):
        if str(row.seq) not in known:
            version = RosterVersion.model_validate({name: getattr(row, name) for name in fields})
            item = make_item("profile", version.model_dump(mode="json"), version.put_at)
            batch.add(item, str(row.seq))


def _matters(connection: Connection, refs: Iterable[int], batch: _Batch) -> None:
    for row in _rows(connection, matter_events, refs):
        if not tables.known_refs(connection, "matter", [row.id]):
            whole = MatterEvent.model_validate_json(row.body)
            body = whole.model_dump(mode="json", exclude_defaults=True)
            batch.add(make_item("matter", body), row.id)


def _tombstones(connection: Connection, refs: Iterable[int], batch: _Batch) -> None:
    for row in _rows(connection, tombstones, refs):
        if row.kind not in _TRAVELS:
            continue
        body: dict[str, Any] = {"kind": row.kind, "id": plain(row.id)}
        if row.from_s is not None:
            body |= {"from_s": row.from_s, "to_s": row.to_s}
        if row.kind == "dog":
            body |= {"until": row.deleted_at}
        batch.add(make_item("deletion", body), str(row.seq), keep=True)
        if row.kind == "span":
            batch.touched.add(row.id)


def _settings(connection: Connection, text: str, batch: _Batch) -> None:
    """The settings file, where it is not what it was when it last came or went. One that was only
    left as it is, since those that came cannot be used here, is nothing new."""
    before = tables.get(connection, "settings_own")
    tables.put(connection, "settings_own", text)
    if text in (before, tables.get(connection, "settings_text")):
        return
    turn = int(tables.get(connection, "settings_turn") or 0) + 1
    batch.add(make_item("settings", {"text": text, "turn": turn}), None, keep=True)
    tables.put(connection, "settings_text", text)
    tables.put(connection, "settings_turn", str(turn))


def plain(key: str) -> str:
    """The event's own id of a row's id, see `voicelog.store.event_log.variant`."""
    return key.partition("#")[0]


def _rows(connection: Connection, table: Any, refs: Iterable[int]) -> Iterable[Any]:
    wanted = list(refs)
    for start in range(0, len(wanted), tables.AT_ONCE):
        some = table.c.seq.in_(wanted[start : start + tables.AT_ONCE])
        yield from connection.execute(select(table).where(some).order_by(table.c.seq)).all()


# --- segments of it ---------------------------------------------------------------------


def _make_segments(log: Log, connection: Connection, author: Author, batch: _Batch) -> int:
    refs = {item.id: ref for item, ref in batch.items}
    fresh = {item.id: item for item, _ in batch.items}
    known = tables.known_items(connection, fresh)
    count = 0
    now = commit_time(log.now())
    for part in split([item for name, item in fresh.items() if name not in known], LARGEST_TEXT):
        header = SegmentHeader(
            kennel=author.kennel,
            device=author.device,
            number=tables.next_number(connection, author.device),
            seen=tables.heads(connection),
            name=author.name,
            program=__version__,
            sealed_at=now,
        )
        segment = SealedSegment(header=header, items=part)
        identity = segment.id  # a hash over all items
        tables.add_segment(connection, segment, now)
        for item in part:
            tables.add_item(connection, item, identity, refs[item.id], keep=item.id in batch.kept)
        count += 1
    return count


def _made(connection: Connection, identity: str, known: Mapping[str, Any] | None) -> Item:
    """An item as it is written now; one whose text was deleted as its id alone."""
    gone = Item(kind="gone", body=None, id=identity)
    if known is None:
        return gone
    if known["line"] is not None:
        return read_item(known["line"].encode())
    made: Item | None = None
    match known["kind"]:
        case "event":
            query = select(events).where(events.c.id == known["ref"])
            row = connection.execute(query).first()
            if row is not None:
                made = _event_item(row, identity)
        case "profile":
            for one in _rows(connection, profiles, [int(known["ref"] or 0)]):
                fields = RosterVersion.model_fields
                told = {name: getattr(one, name) for name in fields}
                made = make_item("profile", told, one.put_at)
        case "matter":
            query = select(matter_events.c.body).where(matter_events.c.id == known["ref"])
            body = connection.scalar(query)
            if body is not None:
                whole = MatterEvent.model_validate_json(body)
                made = make_item("matter", whole.model_dump(mode="json", exclude_defaults=True))
        case _:
            pass
    return made if made is not None and made.id == identity else gone


def _event_item(row: Any, identity: str) -> Item | None:
    event = event_log.read(row.body)
    for heard in (False, True):
        made = make_item("event", event_body(row.recording, event, heard=heard), row.committed_at)
        if made.id == identity:
            return made
    return None


def drop_text(connection: Connection, items: Iterable[str]) -> None:
    """Forget the text of items, where it is kept beside the rows."""
    wanted = list(items)
    for start in range(0, len(wanted), tables.AT_ONCE):
        some = share_items.c.id.in_(wanted[start : start + tables.AT_ONCE])
        connection.execute(update(share_items).where(some).values(line=None, ref=None))


def drop_hearing(connection: Connection, identity: str) -> None:
    """Forget a hearing, and the text of its item."""
    connection.execute(delete(hearing_events).where(hearing_events.c.hearing == identity))
    connection.execute(delete(hearings).where(hearings.c.id == identity))
    drop_text(connection, [identity])
