"""Open the database as the log needs it, bringing an older one up to date first.

Python's SQLite driver opens transactions on its own terms and leaves statements that
change tables outside them, so a failed migration would stay half done. Here the driver is
told to keep out (isolation_level None) and every transaction is begun in so many words:
BEGIN to read, BEGIN IMMEDIATE to write, so that a writer waits in line instead of failing
half way. An older database is copied before it is changed, and a newer one is not touched.
"""

from __future__ import annotations

import os
import sqlite3
import time
from collections.abc import Callable
from contextlib import closing
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, NullPool, create_engine, event, inspect, text
from sqlalchemy.engine.interfaces import DBAPIConnection
from sqlalchemy.exc import OperationalError

from voicelog.audio.locked_files import (
    connect_locked,
    driver_errors,
    folder_key,
    locked_driver,
)
from voicelog.store import chain, schema
from voicelog.store.errors import (
    DamagedLogError,
    LogPermissionError,
    NewerLogError,
    NotALogError,
    translate_errors,
)

__all__ = [
    "BUSY_S",
    "LOCKED_FOLDER",
    "MIGRATIONS",
    "connect_database",
    "make_database",
    "open_database",
    "sync_file",
    "sync_folder",
    "vacuum_database",
    "writing",
]

BUSY_S = 30.0
"""How long a writer waits its turn, in seconds."""

LOCKED_FOLDER = "locked"
"""Folder of a locked log's sound; its key is that of the database beside it too."""

MIGRATIONS = Path(__file__).with_name("migrations")


def open_database(path: Path, now: Callable[[], datetime]) -> Engine:
    """An engine on the database at `path`, made or brought up to date when needed.

    Raises:
        NewerLogError: a later program wrote it; nothing was changed.
        NotALogError: it is a database of something else, or no file.
        DamagedLogError, LogPermissionError, LogBusyError, DiskFullError, FileAccessError:
            as SQLite reports.
    """
    with translate_errors(path):
        for place in (path.parent, path):
            if place.exists() and not os.access(place, os.R_OK | os.W_OK):
                raise LogPermissionError(place)
        if path.is_dir():
            raise NotALogError(path, "a folder", "the database of a log")
        there = path.exists()
        if _look(path) != schema.REVISIONS[-1]:
            _migrate(path, now)
        if not there:  # without opening it, which would cost this process its locks on it
            path.chmod(0o600)
        engine = _engine(path)
        try:
            with engine.connect():  # the first connection meets what is wrong with the file
                pass
        except BaseException:
            engine.dispose()
            raise
    return engine


def make_database(path: Path, revision: str) -> None:
    """Make an empty database at `path`, as it was at a schema revision."""
    engine = _engine(path, migrating=True)
    try:
        with writing(engine).begin() as connection:
            _upgrade(connection, revision)
    finally:
        engine.dispose()


def writing(engine: Engine) -> Engine:
    """The same engine, whose transactions wait their turn to write before they start."""
    return engine.execution_options(voicelog_begin="BEGIN IMMEDIATE")


def connect_database(path: Path, mode: str = "rwc") -> sqlite3.Connection:
    """A connection to a log's database, or to a copy of it beside a log, locked or not.

    `mode`: as SQLite's addresses have it: ro, rw, or rwc, which makes it where there is none.
    """
    key = folder_key(path.parent / LOCKED_FOLDER)
    if key is not None:
        return connect_locked(path, key, mode)
    uri = f"{path.absolute().as_uri()}?mode={mode}"
    return sqlite3.connect(uri, uri=True, timeout=BUSY_S, isolation_level=None)


def vacuum_database(engine: Engine) -> bool:
    """Write the database anew and empty the write-ahead log; whether that was possible now.

    Deleted rows are overwritten when they go (secure_delete); this is for what older
    versions of pages left in the write-ahead log and in pages that became free.
    """
    raw = engine.raw_connection()
    try:
        cursor = raw.cursor()
        for statement in (_CHECKPOINT, "VACUUM", _CHECKPOINT):
            row = cursor.execute(statement).fetchone()
            if row is not None and row[0]:
                return False
    except driver_errors("OperationalError"):
        return False
    finally:
        raw.close()
    return True


_CHECKPOINT = "PRAGMA wal_checkpoint(TRUNCATE)"


def sync_file(file: Path) -> None:
    """Put the bytes of a file on disk."""
    with file.open("rb+") as handle:
        os.fsync(handle.fileno())


def sync_folder(folder: Path) -> None:
    """Put a folder's list of names on disk, where the system has such a thing."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _engine(path: Path, *, migrating: bool = False) -> Engine:
    key = folder_key(path.parent / LOCKED_FOLDER)
    given: dict[str, Any] = {"poolclass": NullPool} if migrating else {}
    if key is None:
        given["connect_args"] = {"timeout": BUSY_S, "isolation_level": None}
    else:
        given |= {"module": locked_driver(), "creator": partial(connect_locked, path, key)}
    engine = create_engine(URL.create("sqlite", database=str(path)), **given)

    def connected(connection: DBAPIConnection, _record: object) -> None:
        cursor = connection.cursor()
        try:
            _write_ahead(cursor.execute)
            # A migration may rebuild a table that others point to; it checks at its end.
            cursor.execute("PRAGMA foreign_keys = " + ("OFF" if migrating else "ON"))
            cursor.execute("PRAGMA synchronous = FULL")
            cursor.execute("PRAGMA secure_delete = ON")  # what goes is overwritten
            cursor.execute("PRAGMA fullfsync = ON")  # matters on macOS only
        finally:
            cursor.close()

    def begin(connection: Connection) -> None:
        connection.exec_driver_sql(
            connection.get_execution_options().get("voicelog_begin", "BEGIN")
        )

    event.listen(engine, "connect", connected)
    event.listen(engine, "begin", begin)
    return engine


def _write_ahead(execute: Callable[[str], object]) -> None:
    """Turn write-ahead logging on. SQLite does not wait its turn for this, so we do."""
    deadline = time.monotonic() + BUSY_S
    while True:
        try:
            execute("PRAGMA journal_mode = WAL")
            return
        except driver_errors("OperationalError") as error:
            busy = getattr(error, "sqlite_errorcode", None) == sqlite3.SQLITE_BUSY
            if not busy or time.monotonic() > deadline:
                raise
            time.sleep(0.01)


def _look(path: Path) -> str | None:
    """The schema revision of the database, changing nothing; None where there is none yet."""
    if not path.exists():
        return None
    # Read-only mode would leave its -wal and -shm files behind; this one cleans up.
    with closing(connect_database(path, "rw")) as connection:
        names = {row[0] for row in connection.execute("SELECT name FROM sqlite_master")}
        if not names:
            return None
        if not {"alembic_version", "events"} <= names:
            raise NotALogError(path, "a database of something else", "the database of a log")
        row = connection.execute("SELECT version_num FROM alembic_version").fetchone()
    return _known(path, row[0] if row else "none")


def _known(path: Path, revision: str) -> str:
    if revision not in schema.REVISIONS:
        raise NewerLogError(path, revision, schema.REVISIONS[-1])
    return revision


def _migrate(path: Path, now: Callable[[], datetime]) -> None:
    engine = _engine(path, migrating=True)
    try:
        with writing(engine).begin() as connection:
            found = _revision(connection)  # again: another program may have been quicker
            if found is not None:
                if _known(path, found) == schema.REVISIONS[-1]:
                    return
                _check(path, connection, "quick_check", healthy="ok")
                _back_up(path, f"{path.stem}-{found}-{now():%Y%m%dT%H%M%S%f}{path.suffix}")
            try:
                _upgrade(connection)
            except ValueError as error:  # a moment, say, that is none
                raise DamagedLogError(path, "a row of it cannot be read") from error
            except OperationalError as error:
                # so SQLite says that a function of a migration could not read what a row holds
                if "user-defined function" not in str(error.orig):
                    raise
                raise DamagedLogError(path, "a row of it cannot be read") from error
            chain.link(connection)
            _check(path, connection, "foreign_key_check", healthy=None)
    finally:
        engine.dispose()


def _revision(connection: Connection) -> str | None:
    if not inspect(connection).has_table("alembic_version"):
        return None
    found: str | None = connection.scalar(text("SELECT version_num FROM alembic_version"))
    return found


def _check(path: Path, connection: Connection, pragma: str, *, healthy: str | None) -> None:
    row = connection.exec_driver_sql(f"PRAGMA {pragma}").first()
    if (row[0] if row else None) != healthy:
        raise DamagedLogError(path, f"{pragma}: {row}")


def _back_up(path: Path, name: str) -> None:
    """Copy the database, as last committed, to `name` beside it, whole or not at all."""
    target = path.with_name(name)
    part = target.with_name(f"{name}.part")
    part.unlink(missing_ok=True)
    os.close(os.open(part, os.O_CREAT | os.O_WRONLY, 0o600))
    with closing(connect_database(path)) as source, closing(connect_database(part)) as copy:
        source.backup(copy)
        copy.execute("PRAGMA journal_mode = DELETE")  # one file, with nothing beside it
    part.replace(target)
    sync_folder(path.parent)


def _upgrade(connection: Connection, revision: str = "head") -> None:
    # Alembic is large, and only a migration needs it.
    from alembic import command
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS).replace("%", "%%"))
    config.attributes["connection"] = connection
    command.upgrade(config, revision)
