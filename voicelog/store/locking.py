"""Lock a log that is there, or take its lock off; what was cut short is finished, or dropped.

What is on its way is the name of the key file, so whatever a kill leaves is one of two things,
and `finish_locking` does the rest, file after file: each is copied, read back, put on the disk, and
only then the old one is overwritten and removed. Before the first of them is done, what cannot go
on (another program holds the database) is dropped.

A database is never opened here but by SQLite while anybody may hold it: closing another handle to
its file would take away the locks of this process (POSIX).
"""

from __future__ import annotations

import os
import shutil
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

from voicelog.audio.locked_files import (
    KEY_BYTES,
    connect_locked,
    driver_errors,
    locked_driver,
    open_bytes,
    write_bytes,
)
from voicelog.store.database import LOCKED_FOLDER, sync_file, sync_folder
from voicelog.store.errors import DamagedLogError, LogBusyError, LogError, translate_errors
from voicelog.store.log_lock import (
    INCOMING_FOLDER,
    KEY_FILE,
    KEYS_FOLDER,
    LOCKING_FILE,
    OPENING_FILE,
    OUTGOING_FOLDER,
    PHONE_FOLDER,
    LockState,
    known_key,
    lock_state,
    new_key,
    note_log_key,
    unlock,
    write_key_file,
)
from voicelog.store.sound_files import sha256_of

__all__ = ["finish_locking", "lock_log", "take_lock_off", "unlock_and_finish"]

Told = Callable[[int, int], None]
"""How many files are done, and of how many."""

_PLAIN = b"SQLite format 3\0"
_PATIENCE_MS = 2000
"""How long a database that another program holds is waited for, ms."""
_FOLDERS = {
    "sound": "",
    "live": "live",
    INCOMING_FOLDER: INCOMING_FOLDER,
    "phone": PHONE_FOLDER,
    KEYS_FOLDER: KEYS_FOLDER,
}
"""Folders of what is locked with the database, each with its name within `LOCKED_FOLDER`."""
_AGAIN = (
    "watch-*.json",
    "listening.txt",
    "phone-page.txt",
    f"{OUTGOING_FOLDER}/*/*",
    f"{LOCKED_FOLDER}/{OUTGOING_FOLDER}/*/*",
)
"""What only spares work, or was to be sent: it goes, on the way to either side."""
_CHUNK = 1 << 20


def _silently(_done: int, _total: int) -> None:
    return


def lock_log(folder: Path, passphrase: str, told: Told = _silently) -> None:
    """Lock the log in a folder, which must not be locked, nor open in any program.

    Raises:
        NoLockLibraryError: the library for it is not installed.
        ShortPassphraseError: the passphrase would keep nobody out.
        LogBusyError: another program has the log open; it stays as it was.
        LogError: as the disk refuses.
    """
    locked_driver()
    key = new_key()
    write_key_file(folder / LOCKING_FILE, key, passphrase)
    note_log_key(folder, key)
    try:
        finish_locking(folder, told)
    except LogError:
        if _is_plain(folder / "log.sqlite3"):  # nothing was done yet
            note_log_key(folder, None)
            (folder / LOCKING_FILE).unlink()
        raise


def take_lock_off(folder: Path, told: Told = _silently) -> None:
    """Make a log that is locked, and unlocked by now, an ordinary one. Raises as `lock_log`."""
    (folder / KEY_FILE).replace(folder / OPENING_FILE)
    sync_folder(folder)
    try:
        finish_locking(folder, told)
    except LogError:
        if not _is_plain(folder / "log.sqlite3"):
            (folder / OPENING_FILE).replace(folder / KEY_FILE)
        raise


def finish_locking(folder: Path, told: Told = _silently) -> bool:
    """Do what is left to do of locking the log in a folder, or of taking its lock off; whether
    there was anything. The log has to be unlocked (`unlock`).

    Raises:
        LogBusyError: another program has the database open, which is still to be done.
        LogError: as the disk refuses; what is done is done, and the rest is done next time.
    """
    state, key = lock_state(folder), known_key(folder)
    if state in (LockState.PLAIN, LockState.LOCKED) or key is None:
        return False
    locking = state is LockState.LOCKING
    databases = [
        path
        for path in (folder / "log.sqlite3", *sorted(folder.glob("log-*.sqlite3")))
        if path.exists() and path.stat().st_size and _is_plain(path) == locking
    ]
    sounds = list(_left(folder, locking))
    total = len(databases) + len(sounds)
    with translate_errors(folder):
        for done, path in enumerate(databases):
            told(done, total)
            _rewrite(path, *((None, key) if locking else (key, None)))
        for done, (path, target) in enumerate(sounds, start=len(databases)):
            told(done, total)
            _move(path, target)
        for place in (path for names in _AGAIN for path in folder.glob(names)):
            _overwrite(place)
            place.unlink()
        if locking:
            (folder / LOCKING_FILE).replace(folder / KEY_FILE)
            sync_folder(folder)
        else:
            shutil.rmtree(folder / LOCKED_FOLDER, ignore_errors=True)  # its folders, empty by now
            (folder / OPENING_FILE).unlink()
            note_log_key(folder, None)
    return True


def unlock_and_finish(folder: Path) -> bool:
    """Make the log in a folder readable, and finish what a kill cut short; whether it did. Raises
    as `unlock` and `finish_locking`."""
    unlock(folder)
    return finish_locking(folder)


# --- within -----------------------------------------------------------------------------


def _is_plain(path: Path) -> bool:
    try:
        with path.open("rb") as file:
            return file.read(len(_PLAIN)) == _PLAIN
    except FileNotFoundError:
        return False


def _left(folder: Path, locking: bool) -> Iterator[tuple[Path, Path]]:
    """Files of sound that are still on the other side, each with its place on this one."""
    for plain, locked in _FOLDERS.items():
        sides = (folder / plain, folder / LOCKED_FOLDER / locked)
        here, there = sides if locking else reversed(sides)
        deep = plain == INCOMING_FOLDER
        for path in sorted(here.rglob("*") if deep else here.glob("*")):
            if path.is_dir() or path.name.endswith(("-wal", "-shm")):
                continue
            if path.suffix == ".part" and not deep:
                path.unlink()  # half a copy, that nobody reads
                continue
            yield path, there / path.relative_to(here)


def _is_list(path: Path) -> bool:
    """Whether a file is one of the lists of hashes and times beside a phone's sound, which are
    never locked."""
    return path.parent.name == PHONE_FOLDER and path.suffix != ".wav"


def _move(path: Path, target: Path) -> None:
    """Copy a file of sound to the other side, compare, and remove the first. Where the copy is
    there it is whole, and the first may be half overwritten."""
    if _is_list(path):
        target.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        path.replace(target)
        return
    if not target.exists():
        _copy(path, target)
    _overwrite(path)
    path.unlink()


def _copy(path: Path, target: Path) -> None:
    target.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    part = target.with_name(f"{target.name}.part")
    with open_bytes(path) as source, write_bytes(part) as out:
        while chunk := source.read(_CHUNK):
            out.write(chunk)
    part.chmod(0o600)
    sync_file(part)
    if sha256_of(part) != sha256_of(path):
        raise DamagedLogError(part, "what was written does not read back")
    part.replace(target)
    sync_folder(target.parent)


def _rewrite(path: Path, key: bytes | None, to: bytes | None) -> None:
    """Write a database anew with another key, or none, in the place of the old one."""
    part = path.with_name(f"{path.name}.part")
    part.unlink(missing_ok=True)
    os.close(os.open(part, os.O_CREAT | os.O_WRONLY, 0o600))
    with closing(connect_locked(path, key, "rw")) as source:
        try:
            source.execute(f"PRAGMA busy_timeout = {_PATIENCE_MS}")
            # No other program may have it open for this to succeed; then nobody comes in.
            source.execute("PRAGMA locking_mode = EXCLUSIVE")
            mode = source.execute("PRAGMA journal_mode = DELETE").fetchone()
            source.execute("BEGIN EXCLUSIVE")
            source.execute("COMMIT")
        except driver_errors("OperationalError") as error:
            raise LogBusyError(path) from error
        if mode is None or mode[0] != "delete":
            raise LogBusyError(path)
        given = "" if to is None else f"x'{to[:KEY_BYTES].hex()}'"
        source.execute("ATTACH DATABASE ? AS other KEY ?", (str(part), given))
        for pragma in ("journal_mode", "synchronous"):  # it is put on the disk when it is whole
            source.execute(f"PRAGMA other.{pragma} = OFF")
        source.execute("SELECT sqlcipher_export('other')")
        alike = _counted(source, "main") == _counted(source, "other")
        source.execute("DETACH DATABASE other")
        if not alike:
            raise DamagedLogError(path, "a copy of it does not hold what it holds")
        with closing(connect_locked(part, to, "rw")) as copy:
            if copy.execute("PRAGMA integrity_check").fetchone() != ("ok",):
                raise DamagedLogError(part, "what was written does not read back")
        sync_file(part)
        old = os.open(path, os.O_WRONLY)
        try:
            part.replace(path)
            sync_folder(path.parent)
            if key is None:
                _zero(old)
        finally:
            os.close(old)


def _counted(connection: sqlite3.Connection, schema: str) -> list[tuple[str, str, int]]:
    """Everything that a database is made of, with the number of rows."""
    made = connection.execute(
        f"SELECT type, name, coalesce(sql, '') FROM {schema}.sqlite_master ORDER BY type, name"
    ).fetchall()
    return [
        (
            name,
            sql,
            connection.execute(f'SELECT count(*) FROM {schema}."{name}"').fetchone()[0]
            if kind == "table"
            else 0,
        )
        for kind, name, sql in made
    ]


def _overwrite(path: Path) -> None:
    handle = os.open(path, os.O_WRONLY)
    try:
        _zero(handle)
    finally:
        os.close(handle)


def _zero(handle: int) -> None:
    """Overwrite a file: what the disk still holds of it elsewhere is beyond a program."""
    left = os.fstat(handle).st_size
    while left > 0:
        left -= os.write(handle, bytes(min(left, _CHUNK)))
    os.fsync(handle)
