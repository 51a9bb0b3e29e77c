"""What a log remembers of its share: segments, items, and what was settled between devices.

Every function works within the caller's transaction.
"""

from __future__ import annotations

import json
from collections.abc import Collection, Iterable, Mapping, Sequence
from typing import Any

from sqlalchemy import Connection, bindparam, delete, func, insert, or_, select, update

from voicelog.store.schema import (
    hearing_events,
    hearings,
    share_items,
    share_segments,
    share_state,
)
from voicelog.store.share.items import Item
from voicelog.store.share.segments import SealedSegment, SegmentHeader
from voicelog.store.standing import STANDING

__all__ = [
    "ASIDE",
    "AT_ONCE",
    "NEWER",
    "add_item",
    "add_items",
    "add_segment",
    "ancestors",
    "clear",
    "forget",
    "get",
    "headers",
    "heads",
    "keep_line",
    "known_items",
    "known_refs",
    "newer_items",
    "next_number",
    "put",
    "seen_by",
    "segment_ids",
    "settle_item",
    "settle_items",
]

ASIDE = "aside:"
"""Begins the keys of what is set aside of a recording, by its id."""
NEWER = "newer"
"""Kind of an item that this program, or the one before it, did not know."""
AT_ONCE = 500
"""Parameters of one query: SQLite takes a limited number."""


def get(connection: Connection, key: str) -> str | None:
    """A value that was put."""
    query = select(share_state.c.value).where(share_state.c.key == key)
    return connection.scalar(query)


def put(connection: Connection, key: str, value: str) -> None:
    """Put a value in place of what was there."""
    connection.execute(delete(share_state).where(share_state.c.key == key))
    connection.execute(insert(share_state).values(key=key, value=value))


def forget(connection: Connection, keys: Collection[str]) -> None:
    """Take values away."""
    connection.execute(delete(share_state).where(share_state.c.key.in_(keys)))


def clear(connection: Connection) -> None:
    """Forget all of a share; what came by it stays in the log, and is shown as it is. What is set
    aside stays so, and is still named; what stands is still noted (`voicelog.store.standing`)."""
    key = share_state.c.key
    stays = or_(key.startswith(ASIDE), key.startswith(STANDING))
    connection.execute(delete(share_state).where(~stays))
    for table in (share_segments, share_items):
        connection.execute(delete(table))
    for table in (hearing_events, hearings):
        connection.execute(delete(table))


def segment_ids(connection: Connection, wanted: Collection[str] | None = None) -> set[str]:
    """The ids of all segments that were written or taken in here, or of the `wanted` ones among
    them. `connection` is in a transaction."""
    if wanted is None:
        return set(connection.scalars(select(share_segments.c.id)))
    found: set[str] = set()
    names = list(wanted)
    for start in range(0, len(names), AT_ONCE):
        some = share_segments.c.id.in_(names[start : start + AT_ONCE])
        found.update(connection.scalars(select(share_segments.c.id).where(some)))
    return found


def heads(connection: Connection) -> tuple[str, ...]:
    """The segments that no other one here has seen. `connection` is in a transaction."""
    return tuple(json.loads(get(connection, "heads") or "[]"))


def newer_items(connection: Connection) -> int:
    """How many items are kept that this program does not know. `connection` is in a
    transaction."""
    query = select(func.count()).select_from(share_items).where(share_items.c.kind == NEWER)
    return connection.scalar(query) or 0


def next_number(connection: Connection, device: str) -> int:
    """The number of the next segment that a device writes. `connection` is in a transaction."""
    query = select(func.max(share_segments.c.number)).where(share_segments.c.device == device)
    return (connection.scalar(query) or 0) + 1


def add_segment(connection: Connection, segment: SealedSegment, at: str, newer: int = 0) -> None:
    """Remember a segment, and that what it has seen is no head any more. `newer`: how many of its
    items this program does not know."""
    header = segment.header
    connection.execute(
        insert(share_segments).values(
            id=segment.id,
            device=header.device,
            number=header.number,
            header=header.model_dump_json(),
            item_ids=[item.id for item in segment.items],
            newer=newer,
            taken_at=at,
        )
    )
    left = [one for one in heads(connection) if one not in header.seen]
    put(connection, "heads", json.dumps(sorted([*left, segment.id])))


def headers(connection: Connection) -> dict[str, SegmentHeader]:
    """The headers of all segments by their ids. `connection` is in a transaction."""
    rows = connection.execute(select(share_segments.c.id, share_segments.c.header))
    return {row.id: SegmentHeader.model_validate_json(row.header) for row in rows}


def ancestors(
    connection: Connection,
    seen: Iterable[str],
    known: Mapping[str, SegmentHeader] | None = None,
) -> set[str]:
    """Segments, and all that their authors had seen. `connection` is in a transaction; `known` are
    the `headers`, where they were read already."""
    known = headers(connection) if known is None else known
    found: set[str] = set()
    waiting = list(seen)
    while waiting:
        name = waiting.pop()
        if name not in found:
            found.add(name)
            waiting += known[name].seen if name in known else ()
    return found


def known_items(connection: Connection, ids: Iterable[str]) -> dict[str, Mapping[str, Any]]:
    """Of these items, those that are known, by id: their rows of `share_items`. `connection` is in
    a transaction."""
    found: dict[str, Mapping[str, Any]] = {}
    wanted = list(ids)
    for start in range(0, len(wanted), AT_ONCE):
        some = share_items.c.id.in_(wanted[start : start + AT_ONCE])
        for row in connection.execute(select(share_items).where(some)).mappings():
            found[row["id"]] = dict(row)
    return found


def known_refs(connection: Connection, kind: str, refs: Iterable[str]) -> set[str]:
    """Of these rows, those that an item of a kind stands for. `connection` is in a transaction."""
    found: set[str] = set()
    wanted = list(refs)
    for start in range(0, len(wanted), AT_ONCE):
        some = share_items.c.ref.in_(wanted[start : start + AT_ONCE])
        query = select(share_items.c.ref).where(share_items.c.kind == kind, some)
        found.update(connection.scalars(query))
    return found


def add_item(
    connection: Connection, item: Item, segment: str, ref: str | None, *, keep: bool = False
) -> None:
    """Remember an item: the row that it is here, and with `keep` the whole of it."""
    connection.execute(
        insert(share_items).values(
            id=item.id,
            segment=segment,
            kind=item.kind,
            ref=ref,
            line=item.line() if keep and not item.gone else None,
        )
    )


def add_items(
    connection: Connection, settled: Sequence[tuple[Item, str | None]], segment: str
) -> None:
    """Remember items whose rows are there, each with its row's id; None where it has none."""
    if settled:
        rows = [
            {"id": item.id, "segment": segment, "kind": item.kind, "ref": ref, "line": None}
            for item, ref in settled
        ]
        connection.execute(insert(share_items), rows)


def settle_items(connection: Connection, settled: Sequence[tuple[str, str | None]]) -> None:
    """Say of items which row each is now, so that they need not be kept beside it."""
    if settled:
        same = share_items.c.id == bindparam("item")
        values: dict[str, Any] = {"ref": bindparam("row"), "line": None, "kind": "event"}
        rows = [{"item": item, "row": ref} for item, ref in settled]
        connection.execute(update(share_items).where(same).values(values), rows)


def settle_item(connection: Connection, item: str, ref: str | None, kind: str = "event") -> None:
    """Say which row an item is now, so that it need not be kept beside it."""
    same = share_items.c.id == item
    connection.execute(update(share_items).where(same).values(ref=ref, line=None, kind=kind))


def keep_line(connection: Connection, item: Item) -> None:
    """Keep the whole of an item that is known, as it is now."""
    same = share_items.c.id == item.id
    connection.execute(update(share_items).where(same).values(line=item.line()))


def seen_by(connection: Connection, segment: str) -> tuple[str, ...]:
    """What the author of a segment had seen; nothing where it is not there yet. `connection` is in
    a transaction."""
    query = select(share_segments.c.header).where(share_segments.c.id == segment)
    header = connection.scalar(query)
    return SegmentHeader.model_validate_json(header).seen if header else ()
