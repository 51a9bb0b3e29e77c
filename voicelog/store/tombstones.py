"""What the owner deleted, remembered without saying what it was.

Kinds: "event" (an event's id), "recording" (a recording's id: all of it), "span" (a stretch
of a recording: its events and its sound), "hush" (a stretch whose sound went and whose
entries stay), "sound" (the hash of a sound file that must not be there), "profile" (a row of
the roster), "dog" (the hash of a name), "matter" (a matter event's id). Every function works
within the caller's transaction.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from datetime import datetime
from typing import Literal

from sqlalchemy import Connection, insert, select, update

from voicelog.model.names import name_key
from voicelog.store.commit_time import commit_time
from voicelog.store.schema import tombstones

__all__ = [
    "TimeInterval",
    "TombstoneKind",
    "dog_id",
    "find",
    "lay",
    "lay_at",
    "mark_swept",
    "since",
    "stretches",
    "unswept",
    "unswept_sounds",
]

TombstoneKind = Literal["event", "recording", "span", "hush", "sound", "profile", "dog", "matter"]
TimeInterval = tuple[float, float]
"""From, to: seconds in a recording."""


def dog_id(name: str) -> str:
    """How a deleted dog is remembered: the hash of its name, letter case aside."""
    return hashlib.sha256(name_key(name).encode("utf-8", "replace")).hexdigest()


def lay(
    connection: Connection,
    kind: TombstoneKind,
    ids: Iterable[str],
    at: datetime,
    stretch: TimeInterval | None = None,
) -> None:
    """Lay a tombstone for each id; what it covers must be swept from the disk."""
    from_s, to_s = stretch or (None, None)
    rows = [
        {
            "kind": kind,
            "id": one,
            "from_s": from_s,
            "to_s": to_s,
            "deleted_at": commit_time(at),
            "swept": False,
        }
        for one in ids
    ]
    if rows:
        connection.execute(insert(tombstones), rows)


def lay_at(connection: Connection, kind: TombstoneKind, one: str, at: str) -> None:
    """Lay a tombstone at a time of commit, see `voicelog.store.commit_time`."""
    values = {"kind": kind, "id": one, "deleted_at": at, "swept": False}
    connection.execute(insert(tombstones).values(values))


def find(connection: Connection, kind: TombstoneKind, ids: Iterable[str]) -> set[str]:
    """Which of these ids have a tombstone of that kind. `connection` is in a transaction."""
    found: set[str] = set()
    wanted = list(ids)
    for start in range(0, len(wanted), 500):  # SQLite takes a limited number of parameters
        some = wanted[start : start + 500]
        query = select(tombstones.c.id).where(tombstones.c.kind == kind, tombstones.c.id.in_(some))
        found.update(connection.scalars(query))
    return found


def since(connection: Connection, kind: TombstoneKind, one: str) -> str | None:
    """When the newest tombstone of that kind and id was laid, or None."""
    query = (
        select(tombstones.c.deleted_at)
        .where(tombstones.c.kind == kind, tombstones.c.id == one)
        .order_by(tombstones.c.deleted_at.desc())
    )
    return connection.scalar(query)


def stretches(
    connection: Connection, recording: str, *kinds: TombstoneKind
) -> tuple[TimeInterval, ...]:
    """The stretches of a recording that have a tombstone of these kinds. `connection` is in a
    transaction."""
    query = select(tombstones.c.from_s, tombstones.c.to_s).where(
        tombstones.c.id == recording, tombstones.c.kind.in_(kinds)
    )
    return tuple((row.from_s, row.to_s) for row in connection.execute(query))


def unswept(connection: Connection) -> bool:
    """Whether something deleted may still be on the disk. `connection` is in a transaction."""
    query = select(tombstones.c.seq).where(tombstones.c.swept.is_(False)).limit(1)
    return connection.scalar(query) is not None


def unswept_sounds(connection: Connection) -> set[str]:
    """Hashes of sound files that were deleted and may still be there. `connection` is in a
    transaction."""
    return set(
        connection.scalars(
            select(tombstones.c.id).where(
                tombstones.c.kind == "sound", tombstones.c.swept.is_(False)
            )
        )
    )


def mark_swept(connection: Connection, sounds: Iterable[str] | None = None) -> None:
    """Say that nothing is left of these sound files, or (None) of all that is deleted."""
    done = update(tombstones).where(tombstones.c.swept.is_(False)).values(swept=True)
    if sounds is not None:
        done = done.where(tombstones.c.kind == "sound", tombstones.c.id.in_(list(sounds)))
    connection.execute(done)
