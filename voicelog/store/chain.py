"""The log proves itself: everything that is committed is a link of a chain of hashes.

Each database is a device with a random name, and each row of recordings, events, profiles,
matter events and tombstones that is put in or changed becomes a link: a salted hash of the row,
and a hash of that together with the link before. Whoever edits, removes, adds or reorders rows
afterwards breaks it. Of what the owner deletes, salt and hash go too, so that nothing can be
guessed from them; the links after it still hold.

Triggers write down which rows a transaction touched; `link` makes links of them before it is
committed. What is written down when a transaction begins was written by another program, and
never becomes a link. The end of the chain is noted in a file beside the database, and in every
backup, since an emptied or exchanged database agrees with itself.

It finds accidents and tampering by hand. Whoever can write the whole folder and knows this
program can forge all of it, and is found only by a backup kept elsewhere.

Every function works within the caller's transaction.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Literal

from pydantic import ValidationError
from sqlalchemy import Connection

from voicelog.model import FrozenModel

__all__ = [
    "CHAIN_FILE",
    "ChainEnd",
    "ChainFault",
    "FaultKind",
    "begin",
    "chain_end",
    "faults",
    "holds",
    "link",
    "note_end",
    "noted_end",
]

CHAIN_FILE = "chain.json"
"""Beside the database: the end of the chain when the log was last closed."""

_ROWS = {
    "recording": "SELECT id, sha256, file_name, sound, started_at, duration_s, level, dog, roster, "
    "settings, listeners, grammar, added_at, complete FROM recordings WHERE seq = ?",
    "event": "SELECT id, recording, about, body, committed_at FROM events WHERE seq = ?",
    "profile": "SELECT kind, name, body, removed, put_at FROM profiles WHERE seq = ?",
    "matter": "SELECT id, body FROM matter_events WHERE seq = ?",
    "tombstone": "SELECT kind, id, from_s, to_s, deleted_at FROM tombstones WHERE seq = ?",
}
_TABLES = {
    "recording": "recordings",
    "event": "events",
    "profile": "profiles",
    "matter": "matter_events",
    "tombstone": "tombstones",
}

_AT_ONCE = 5_000
"""Rows that are linked in one go."""

FaultKind = Literal["edited", "removed", "added", "broken", "shorter", "other device"]
"""A row that is not as it was linked, is gone without a deletion, or was put in by another program;
links that do not follow from each other; a chain that ends before its noted end, or is that of
another device."""


class ChainEnd(FrozenModel):
    """How far a device's chain goes: its number of links, and the hash of the last."""

    device: str
    links: int
    last: str


class ChainFault(FrozenModel):
    """What of the chain does not hold: of which kind, in which table (empty: the chain itself), and
    how many rows."""

    kind: FaultKind
    table: str = ""
    count: int = 1


def begin(connection: Connection) -> None:
    """Mark what another program wrote since the last link; it never becomes one."""
    run = connection.exec_driver_sql
    if run("SELECT 1 FROM unlinked WHERE strange = 0 LIMIT 1").first() is not None:
        run("UPDATE unlinked SET strange = 1 WHERE strange = 0")


def link(connection: Connection) -> None:
    """Make a link of each row that was touched, in that order."""
    run = connection.exec_driver_sql
    query = f"SELECT seq, kind, ref FROM unlinked WHERE strange = 0 ORDER BY seq LIMIT {_AT_ONCE}"
    last: bytes | None = None
    while touched := run(query).all():
        if last is None:
            row = run("SELECT link FROM chain ORDER BY seq DESC LIMIT 1").first()
            last = _first(connection) if row is None else row[0]
        upto = touched[-1][0]
        rows = _touched_rows(connection, {kind for _, kind, _ in touched}, upto)
        links = []
        for kind, ref in dict.fromkeys((kind, ref) for _, kind, ref in touched):
            if (kind, ref) not in rows:  # put in and taken out within one transaction
                continue
            salt = os.urandom(16)
            content = _content(salt, rows[kind, ref])
            last = hashlib.sha256(last + content).digest()
            links.append((kind, ref, salt, content, last))
        if links:
            into = "INSERT INTO chain (kind, ref, salt, content, link) VALUES (?, ?, ?, ?, ?)"
            run(into, links)
        run("DELETE FROM unlinked WHERE strange = 0 AND seq <= ?", (upto,))


def chain_end(connection: Connection) -> ChainEnd:
    """The end of the chain."""
    run = connection.exec_driver_sql
    row = run("SELECT seq, link FROM chain ORDER BY seq DESC LIMIT 1").first()
    return ChainEnd(
        device=_device(connection),
        links=0 if row is None else row[0],
        last="" if row is None else row[1].hex(),
    )


def holds(connection: Connection, end: ChainEnd) -> bool:
    """Whether the chain goes through an end that was noted earlier."""
    if end.device != _device(connection):
        return False
    if end.links == 0:
        return True
    query = "SELECT link FROM chain WHERE seq = ?"
    row = connection.exec_driver_sql(query, (end.links,)).first()
    return row is not None and row[0].hex() == end.last


def faults(connection: Connection, noted: ChainEnd | None) -> tuple[ChainFault, ...]:
    """All that does not hold, of the chain and of the rows that it links; every row is read.

    `noted` is the end that was noted outside of the database, None where there is none.
    """
    run = connection.exec_driver_sql
    found: Counter[tuple[FaultKind, str]] = Counter()
    found["broken", ""] = sum(not good for good in _links(connection))
    for kind, table in _TABLES.items():
        columns = _ROWS[kind].removeprefix("SELECT ").partition(" FROM ")[0]
        rows = run(
            f"SELECT salt, content, row.* FROM (SELECT seq AS ref, {columns} FROM {table}) AS row "
            "LEFT JOIN chain ON chain.seq = "
            f"(SELECT max(seq) FROM chain WHERE ref = row.ref AND kind = '{kind}')"
        )
        for salt, content, _, *row in rows:
            if content is None:
                found["added", table] += 1
            elif _content(salt, tuple(row)) != content:
                found["edited", table] += 1
        gone = f"kind = '{kind}' AND ref NOT IN (SELECT seq FROM {table})"
        query = f"SELECT count(DISTINCT ref) FROM chain WHERE {gone} AND content IS"
        # A deletion takes the hash away and leaves a tombstone.
        stones = f"SELECT count(*) FROM tombstones WHERE kind = '{kind}'"
        without = run(f"{query} NULL").scalar_one() - run(stones).scalar_one()
        found["removed", table] = run(f"{query} NOT NULL").scalar_one() + max(0, without)
    if noted is not None and not holds(connection, noted):
        same = noted.device == _device(connection)
        found["shorter" if same else "other device", ""] += 1
    return tuple(
        ChainFault(kind=kind, table=table, count=many)
        for (kind, table), many in found.items()
        if many
    )


def note_end(folder: Path, end: ChainEnd) -> None:
    """Note the end of the chain beside the database; where that cannot be, it is left."""
    part = folder / f"{CHAIN_FILE}.part"
    try:
        part.write_text(end.model_dump_json() + "\n", encoding="utf-8")
        part.chmod(0o600)
        part.replace(folder / CHAIN_FILE)
    except OSError:
        return


def noted_end(folder: Path) -> ChainEnd | None:
    """The end as it was noted, None where it was not, or is not readable."""
    try:
        return ChainEnd.model_validate_json((folder / CHAIN_FILE).read_bytes())
    except (OSError, ValidationError):
        return None


# --- within -----------------------------------------------------------------------------


def _touched_rows(
    connection: Connection, kinds: set[str], upto: int
) -> dict[tuple[str, int], tuple[Any, ...]]:
    """The rows that are written down as touched, as far as `upto`, each as it is now."""
    found: dict[tuple[str, int], tuple[Any, ...]] = {}
    for kind in kinds:
        of_them = "SELECT ref FROM unlinked WHERE strange = 0 AND kind = ? AND seq <= ?"
        query = _ROWS[kind].replace("SELECT ", "SELECT seq, ", 1).replace("= ?", f"IN ({of_them})")
        for seq, *row in connection.exec_driver_sql(query, (kind, upto)):
            found[kind, seq] = tuple(row)
    return found


def _links(connection: Connection) -> Iterator[bool]:
    """Of every link in order, whether it follows from the one before."""
    last = _first(connection)
    query = "SELECT seq, content, link FROM chain ORDER BY seq"
    for number, (seq, content, found) in enumerate(connection.exec_driver_sql(query), start=1):
        follows = content is None or hashlib.sha256(last + content).digest() == found
        yield follows and seq == number
        last = found


def _content(salt: bytes, row: tuple[Any, ...]) -> bytes:
    """The hash of a row: of its values as JSON, so that none runs into the next."""
    return hashlib.sha256(salt + json.dumps(row, default=repr).encode()).digest()


def _first(connection: Connection) -> bytes:
    """What the first link follows: a hash of the device's name."""
    return hashlib.sha256(_device(connection).encode()).digest()


def _device(connection: Connection) -> str:
    row = connection.exec_driver_sql("SELECT id FROM device").first()
    return "" if row is None else str(row[0])
