"""Is everything there, and as it was? What can go wrong on a disk without a word.

Nothing is mended here: a check only says what it found, and what to do is for people.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Mapping
from typing import cast

from sqlalchemy import func, select

from voicelog.model import FrozenModel
from voicelog.store import chain, contents, sound_files
from voicelog.store.chain import ChainFault
from voicelog.store.errors import DamagedLogError
from voicelog.store.known_schema import odd_in_schema
from voicelog.store.log import Log
from voicelog.store.schema import recordings

__all__ = ["IntegrityReport", "check_integrity"]


class IntegrityReport(FrozenModel):
    """What a check found; recordings by their file names."""

    recordings: int
    events: int
    half: tuple[str, ...]
    """Their adding was cut short."""
    missing: tuple[str, ...]
    """Their sound is not there."""
    changed: tuple[str, ...]
    """Their sound is not what it was when it was kept."""
    faults: tuple[ChainFault, ...] = ()
    """What of the chain of hashes does not hold, see `voicelog.store.chain`."""
    odd: tuple[str, ...] = ()
    """Tables and triggers of the database that are not as this program makes them."""
    altered: int = 0
    """Rosters, profiles and settings of recordings that are not what they were."""
    loose: tuple[str, ...] = ()
    """Files of sound that belong to no recording."""
    unreadable: Mapping[str, tuple[str, str]]
    """Their row or events are not as this program knows them: by id, the name and the reason."""


def check_integrity(
    log: Log, progress: Callable[[int, int], None] = lambda done, total: None
) -> IntegrityReport:
    """Read the whole log, and every sound to its last byte.

    `progress` is told before each recording how many are read, and of how many.

    Raises:
        DamagedLogError: the database contradicts itself.
    """
    with log.reading() as connection:
        for pragma, healthy in (("integrity_check", "ok"), ("foreign_key_check", None)):
            row = connection.exec_driver_sql(f"PRAGMA {pragma}").first()
            if (row[0] if row else None) != healthy:
                raise DamagedLogError(log.folder / "log.sqlite3", f"{pragma}: {row}")
        raw = connection.connection.dbapi_connection
        odd = odd_in_schema(cast("sqlite3.Connection", raw))
        faults = () if odd else chain.faults(connection, chain.noted_end(log.folder))
        altered = len(contents.unlike_their_hash(connection))
        named = set(connection.scalars(select(recordings.c.sound)))
        many = connection.scalar(select(func.count()).select_from(recordings)) or 0
    unread = log.unreadable()
    half, missing, changed = [], [], []
    for done, one in enumerate(log.each_recording()):
        progress(done, many)
        name = one.file_name or one.id
        if not one.complete:
            half.append(name)
        if one.sound is None:
            continue
        path = log.sound_of(one)
        if path is None:
            missing.append(name)
        elif sound_files.sha256_of(path) != path.stem:
            changed.append(name)
    inside = sorted(log.sound_folder.glob("*"))
    loose = [
        path.name
        for path in inside
        if path.is_file() and path.suffix != ".part" and log.place(path) not in named
    ]
    return IntegrityReport(
        faults=faults,
        odd=odd,
        altered=altered,
        loose=tuple(loose),
        recordings=many,
        events=log.event_count(),
        half=tuple(half),
        missing=tuple(missing),
        changed=tuple(changed),
        unreadable={one: (error.name, error.why) for one, error in unread.items()},
    )
