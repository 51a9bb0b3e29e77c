"""What a database of ours consists of: exactly the tables and triggers that our steps made.

A database from elsewhere may hold a view that never ends, a column that is computed, a trigger
that acts when it is opened; one of our own may have lost the triggers that hold it to growing.
Both are seen by comparing it, word for word, with what the migrations up to its revision make.
"""

from __future__ import annotations

import re
import sqlite3
import tempfile
from collections.abc import Mapping
from contextlib import closing
from functools import cache
from pathlib import Path

from voicelog.store import schema
from voicelog.store.database import make_database

__all__ = ["LONGEST_VALUE", "odd_in_schema", "refuse_long_values"]

LONGEST_VALUE = 16 << 20
"""Bytes of one value in a database from elsewhere, at most."""

_SPACE = re.compile(r'[\s"`]+')


def odd_in_schema(connection: sqlite3.Connection) -> tuple[str, ...]:
    """What a database has more, less or otherwise than its revision: names of tables, indexes,
    triggers and views, in order; nothing of it is read, but for the revision's name.

    `connection` is to any database. Nothing can be said of a revision that is not known here: it
    counts as whole, and is refused when the log is opened.
    """
    found = _schema(connection)
    newest = known_schema(schema.REVISIONS[-1])
    if found.get("alembic_version") != newest["alembic_version"]:
        return ("alembic_version",)
    row = connection.execute("SELECT version_num FROM alembic_version").fetchone()
    if row is None or row[0] not in schema.REVISIONS:
        return ()
    wanted = known_schema(row[0])
    return tuple(sorted(name for name in {*found, *wanted} if found.get(name) != wanted.get(name)))


def refuse_long_values(connection: sqlite3.Connection) -> None:
    """Read every value of every table once, keeping none.

    Raises:
        sqlite3.Error: one is longer than `LONGEST_VALUE`, or cannot be read.
    """
    if isinstance(connection, sqlite3.Connection):  # a locked one has no such limit, nor was it
        # made by a stranger: whoever wrote it has the passphrase
        connection.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, LONGEST_VALUE)
    for table in schema.metadata.tables:
        columns = [row[1] for row in connection.execute(f"PRAGMA table_info({table})")]
        if columns:
            lengths = " + ".join(f'coalesce(max(length("{name}")), 0)' for name in columns)
            connection.execute(f"SELECT {lengths} FROM {table}").fetchone()


@cache
def known_schema(revision: str) -> Mapping[str, str]:
    """The tables, indexes and triggers of a revision, by name."""
    with tempfile.TemporaryDirectory(prefix="voicelog-") as folder:
        path = Path(folder) / "log.sqlite3"
        make_database(path, revision)
        with closing(sqlite3.connect(path)) as connection:
            return _schema(connection)


def _schema(connection: sqlite3.Connection) -> Mapping[str, str]:
    rows = connection.execute("SELECT type, name, sql FROM sqlite_master")
    return {
        name: f"{kind} {_SPACE.sub(' ', sql)}"
        for kind, name, sql in rows
        if sql is not None and not name.startswith("sqlite_")
    }
