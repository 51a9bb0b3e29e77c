"""What was deleted goes out of the segments of this device too; its id stays.

Every device does so with its own, since only it writes there. Copies of files that were carried
elsewhere, and devices that do not come back, are beyond this.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from datetime import datetime

from sqlalchemy import Connection, Text, cast, func, select

from voicelog.store import tombstones as stones
from voicelog.store.commit_time import commit_time
from voicelog.store.errors import translate_errors
from voicelog.store.log import Log
from voicelog.store.schema import (
    events,
    hearings,
    matter_events,
    profiles,
    share_items,
    share_segments,
    tombstones,
)
from voicelog.store.share import tables
from voicelog.store.share.inbox import WAITING
from voicelog.store.share.items import EventItem, read_item, typed_body
from voicelog.store.share.outbox import Author, drop_hearing, drop_text, regenerated
from voicelog.store.share.place import SegmentFile, SharePlace
from voicelog.store.share.segments import SegmentError

__all__ = ["erase", "rewrite"]


def erase(connection: Connection) -> None:
    """Forget the text of what was deleted since the last time, and note in which segments it was:
    those of them that this device wrote or handed on are to be written anew."""
    newest = str(connection.scalar(select(func.max(tombstones.c.seq))) or 0)
    if newest == "0" or tables.get(connection, "erased_stone") == newest:
        return
    gone = {*_events(connection), *_hearings(connection), *_contents(connection)}
    drop_text(connection, gone)
    again = set(json.loads(tables.get(connection, "rewrite") or "[]"))
    lost = {*gone, *_rows_gone(connection)}
    query = select(share_segments.c.id, share_segments.c.item_ids)
    for row in connection.execute(query):
        if not lost.isdisjoint(row.item_ids):
            again.add(row.id)
    tables.put(connection, "rewrite", json.dumps(sorted(again)))
    tables.put(connection, "erased_stone", newest)


def rewrite(log: Log, place: SharePlace, author: Author) -> None:
    """Write those segments anew, and take away the files of them as they were, also copies under
    other names in this device's folder.

    Raises:
        LogError: as the disk refuses; it is done the next time.
    """
    with log.reading() as connection:
        again = json.loads(tables.get(connection, "rewrite") or "[]")
    if not again:
        return
    with log.reading() as connection:
        known = tables.segment_ids(connection)
    old: dict[str, list[SegmentFile]] = {}
    for file in place.files(f"d-{author.device}"):
        name = file.id if file.id in known else _id_of(place, file)
        if name in again:
            old.setdefault(name, []).append(file)
    for name in again:
        with log.reading() as connection:
            segment = regenerated(connection, name)
        if name not in old and segment.header.device != author.device:
            continue
        path = place.write(segment, author.device)
        for file in old.get(name, ()):
            if file.path != path:
                with translate_errors(file.path):
                    file.path.unlink(missing_ok=True)
    with log.writing() as connection:
        tables.put(connection, "rewrite", "[]")


def _id_of(place: SharePlace, file: SegmentFile) -> str:
    """The segment in a file whose name does not say it; empty where there is none."""
    try:
        return place.read(file).id
    except SegmentError:
        return ""


def _events(connection: Connection) -> Iterator[str]:
    """Items of events whose rows are gone, and of those that wait for a hearing and may not
    come."""
    of_events = select(share_items.c.id).where(share_items.c.kind == "event")
    rows = of_events.where(share_items.c.ref.is_not(None))
    yield from connection.scalars(rows.where(share_items.c.ref.not_in(select(events.c.id))))
    waiting = select(share_items.c.line).where(
        share_items.c.kind.in_(("event", WAITING)), share_items.c.line.is_not(None)
    )
    for line in connection.scalars(waiting).all():
        item = read_item(line.encode())
        try:
            body = typed_body(item)
        except ValueError:
            continue
        if isinstance(body, EventItem) and (
            stones.since(connection, "recording", body.recording) is not None
            or stones.find(connection, "event", [body.event.id])
        ):
            yield item.id


def _hearings(connection: Connection) -> list[str]:
    """Hearings of recordings that are gone."""
    lost = []
    for row in connection.execute(select(hearings.c.id, hearings.c.recording)).all():
        if stones.since(connection, "recording", row.recording) is not None:
            drop_hearing(connection, row.id)
            lost.append(row.id)
    return lost


def _contents(connection: Connection) -> list[str]:
    """Names, profiles and settings that tell of a dog that is gone, where only recordings that were
    there then hold them."""
    if connection.scalar(select(tombstones.c.seq).where(tombstones.c.kind == "dog")) is None:
        return []
    query = select(share_items.c.id, share_items.c.ref, share_items.c.line).where(
        share_items.c.kind == "content", share_items.c.line.is_not(None)
    )
    texts = {row.ref: (row.id, row.line) for row in connection.execute(query)}
    bodies = {ref: read_item(line.encode()).body for ref, (_, line) in texts.items()}
    held: dict[str, list[str]] = {}
    for text in connection.scalars(select(hearings.c.row)):
        row = json.loads(text)
        roster = bodies.get(row["roster"])
        dogs = json.loads(roster["body"])["dogs"] if roster is not None else []
        for ref in (row["dog"], row["settings"], *dogs):
            held.setdefault(ref, []).append(commit_time(datetime.fromisoformat(row["added_at"])))
    gone = []
    for ref, body in bodies.items():
        stone = max(
            (
                since
                for name in _dogs_named(body)
                if (since := stones.since(connection, "dog", stones.dog_id(name))) is not None
            ),
            default=None,
        )
        if stone is not None and ref in held and max(held[ref]) <= stone:
            gone.append(texts[ref][0])
    return gone


def _dogs_named(body: Mapping[str, str]) -> list[str]:
    """The dogs that a content names; its text is of anybody's making."""
    try:
        told = json.loads(body["body"])
        match body["kind"]:
            case "name":
                return [str(told[1])]
            case "dog":
                return [str(told["name"])]
            case "settings":
                return [str(name) for name in told.get("dog", {})]
            case _:
                return []
    except (ValueError, KeyError, TypeError, AttributeError, IndexError):
        return []


def _rows_gone(connection: Connection) -> Iterator[str]:
    """Items of the roster and of matters whose rows are gone."""
    for kind, table in (("profile", profiles), ("matter", matter_events)):
        here = select(cast(table.c.seq, Text) if kind == "profile" else table.c.id)
        query = select(share_items.c.id).where(
            share_items.c.kind == kind,
            share_items.c.ref.is_not(None),
            share_items.c.ref.not_in(here),
        )
        yield from connection.scalars(query)
