"""Files that lie encrypted on the disk, and are read and written as if they did not.

Such a file is a database of SQLCipher: each of its pages is encrypted (AES-256) and carries a code
that a changed page does not pass (HMAC-SHA512). It has one table, the bytes in pieces, so sound of
hours is read and written anywhere in it without ever being whole in memory, and nothing here
encrypts anything by itself. Its first 16 bytes are random and known to everybody (the salt).

Which folders hold such files, and their keys, is known here for as long as the program runs:
whoever opens a file in one of them by this module gets its bytes.
"""

from __future__ import annotations

import errno
import hashlib
import io
import os
import secrets
import sqlite3
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any, BinaryIO, Literal, cast

from voicelog.model import VoicelogError

if TYPE_CHECKING:
    from _typeshed import ReadableBuffer, WriteableBuffer

__all__ = [
    "KEY_BYTES",
    "LockedFile",
    "NoLockLibraryError",
    "append_bytes",
    "connect_locked",
    "driver_errors",
    "folder_key",
    "folder_keys",
    "forget_folder_key",
    "locked_driver",
    "note_folder_key",
    "open_bytes",
    "passphrase_key",
    "salt_of",
    "scratch_file",
    "scratch_folder",
    "size_of",
    "write_bytes",
]

KEY_BYTES = 32
"""Of a key. A salt of 16 bytes may follow it, for a file that is made."""
_SALT_BYTES = 16
_PIECE = 1 << 16
"""Bytes that are written together."""
SCRYPT_N = 1 << 17
"""Cost of a guess at a passphrase: scrypt (RFC 7914) with N = 2^17, r = 8, p = 1 takes 128 MiB and
about half a second (OWASP's Password Storage Cheat Sheet, its first choice for scrypt)."""

_keys: dict[Path, bytes] = {}


class NoLockLibraryError(VoicelogError):
    """What reads a locked log is not installed."""

    def __init__(self) -> None:
        super().__init__(
            "Found no library for locked logs (sqlcipher3), wanted it to read or write one; "
            "install it with: pip install 'voicelog[lock]'"
        )


def note_folder_key(folder: Path, key: bytes) -> None:
    """From now on all files below `folder` are locked ones, of this key (`KEY_BYTES` long)."""
    _keys[Path(os.path.realpath(folder))] = key


def forget_folder_key(folder: Path) -> None:
    """Take that back."""
    _keys.pop(Path(os.path.realpath(folder)), None)


def folder_key(folder: Path) -> bytes | None:
    """The key of a folder's files, None where they are ordinary ones."""
    if not _keys:
        return None
    place = Path(os.path.realpath(folder))
    return next((_keys[one] for one in (place, *place.parents) if one in _keys), None)


def folder_keys() -> dict[Path, bytes]:
    """All keys that are known now, by folder; for a process that works for this one."""
    return dict(_keys)


def open_bytes(path: Path) -> io.RawIOBase:
    """A file to be read, locked or not. Raises OSError."""
    key = folder_key(path.parent)
    return io.FileIO(path) if key is None else LockedFile(path, key)


def write_bytes(path: Path) -> BinaryIO:
    """A file to be written anew, locked or not; whole once it is closed. Raises OSError."""
    key = folder_key(path.parent)
    if key is None:
        return path.open("wb")
    return cast("BinaryIO", io.BufferedRandom(LockedFile(path, key, "new"), _PIECE))


def size_of(path: Path) -> int:
    """Bytes in a file, locked or not. Raises OSError."""
    if folder_key(path.parent) is None:
        return path.stat().st_size
    with open_bytes(path) as file:
        return file.seek(0, io.SEEK_END)


def append_bytes(path: Path, data: bytes) -> None:
    """Put bytes behind those of a file, locked or not, or make it; on the disk when this returns.
    Raises OSError."""
    key = folder_key(path.parent)
    if key is None:
        with open(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600), "ab") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        return
    with LockedFile(path, key, "more" if path.exists() else "grow") as locked:
        locked.seek(0, io.SEEK_END)
        locked.write(data)
        locked.sync()


def scratch_file(folder: Path) -> IO[bytes]:
    """A file for what is needed for a while, in `folder`; it is gone once it is closed.

    In a folder of locked files it is locked too, by a key that nobody else knows.
    """
    if folder_key(folder) is None:
        return tempfile.TemporaryFile(dir=folder)
    handle, name = tempfile.mkstemp(suffix=".part", dir=folder)
    os.close(handle)
    raw = _Scratch(Path(name), secrets.token_bytes(KEY_BYTES), "new")
    return cast("IO[bytes]", io.BufferedRandom(raw, _PIECE))


@contextmanager
def scratch_folder(locked: bool) -> Iterator[Path]:
    """A folder for a while; its files, where `locked`, are so by a key that nobody else knows."""
    with tempfile.TemporaryDirectory(prefix="voicelog-") as name:
        folder = Path(name)
        if locked:
            note_folder_key(folder, secrets.token_bytes(KEY_BYTES))
        try:
            yield folder
        finally:
            forget_folder_key(folder)


def passphrase_key(passphrase: str, salt: bytes) -> bytes:
    """The key that a passphrase makes with a salt (16 bytes): scrypt, see `SCRYPT_N`."""
    return hashlib.scrypt(
        passphrase.encode(), salt=salt, n=SCRYPT_N, r=8, p=1, maxmem=1 << 28, dklen=KEY_BYTES
    )


def salt_of(path: Path) -> bytes:
    """The salt of a locked file: its first 16 bytes. Raises OSError."""
    with path.open("rb") as file:
        return file.read(_SALT_BYTES)


def locked_driver() -> Any:
    """SQLCipher's module of the kind of `sqlite3`. Raises NoLockLibraryError."""
    try:
        # Of an extra: only who locks a log needs it.
        from sqlcipher3 import dbapi2
    except ImportError as error:
        raise NoLockLibraryError from error
    return dbapi2


def connect_locked(path: Path, key: bytes | None, mode: str = "rwc") -> sqlite3.Connection:
    """A connection to a database of SQLCipher; transactions are begun in so many words.

    `key`: `KEY_BYTES`, with a salt behind them or not; None for a database that is not locked.
    `mode`: as SQLite's addresses have it (ro,
    rw, rwc). That the key is wrong shows when something is read.

    Raises:
        NoLockLibraryError: the library is not installed.
        sqlcipher3.Error: as SQLite refuses.
    """
    connection = locked_driver().connect(
        f"{path.absolute().as_uri()}?mode={mode}",
        uri=True,
        timeout=30.0,
        isolation_level=None,
        check_same_thread=False,
    )
    connection.execute("PRAGMA cipher_log_level = NONE")
    if key is not None:
        connection.execute(f"PRAGMA key = \"x'{key.hex()}'\"")
    connection.execute("PRAGMA temp_store = MEMORY")
    return cast("sqlite3.Connection", connection)


def driver_errors(
    kind: Literal["Error", "OperationalError"] = "Error",
) -> tuple[type[Exception], ...]:
    """What SQLite's driver raises, and SQLCipher's where it is in use."""
    loaded = (sqlite3, sys.modules.get("sqlcipher3.dbapi2"))
    return tuple(getattr(one, kind) for one in loaded if one is not None)


class LockedFile(io.RawIOBase):
    """A locked file, opened: to be read ("read"), made anew ("new"), or made to grow ("grow", or
    "more" where it is there).

    A new one is whole once it is closed. What is written to one that grows is in the file when
    `write` returns, so that a kill does not lose it, and on the disk after `sync`. Positions and
    sizes are those of the bytes that are in it. Every method raises OSError where the disk, the
    key or the file is not good.
    """

    name = ""

    def __init__(
        self, path: Path, key: bytes, mode: Literal["read", "new", "grow", "more"] = "read"
    ) -> None:
        super().__init__()
        self._path, self._mode, self._at, self._size = path, mode, 0, 0
        self._piece: tuple[int, bytes] = (0, b"")
        self._grows = False
        if mode == "grow":
            os.close(os.open(path, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o600))
        elif mode == "new":
            path.unlink(missing_ok=True)
            os.close(os.open(path, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o600))
        elif path.stat().st_size == 0:
            raise OSError(errno.EIO, "it is empty", str(path))
        with self._refusals():
            self._open = connect_locked(path, key, "rw")
            if mode in ("read", "more"):
                last = self._run("SELECT start + length(bytes) FROM pieces ORDER BY start DESC")
                self._size = 0 if last is None else last[0]
            if mode == "read":
                return
            self._grows = mode != "new"
            self._run(f"PRAGMA journal_mode = {'WAL' if self._grows else 'OFF'}")
            self._run(f"PRAGMA synchronous = {'NORMAL' if self._grows else 'OFF'}")
            if mode == "more":
                return
            self._run("CREATE TABLE pieces(start INTEGER PRIMARY KEY, bytes BLOB NOT NULL)")
            if mode == "new":
                self._run("BEGIN")

    def readable(self) -> bool:
        return True

    def writable(self) -> bool:
        return self._mode != "read"

    def seekable(self) -> bool:
        return True

    def seek(self, offset: int, whence: int = io.SEEK_SET) -> int:
        base = {io.SEEK_SET: 0, io.SEEK_CUR: self._at, io.SEEK_END: self._size}[whence]
        self._at = max(0, base + offset)
        return self._at

    def tell(self) -> int:
        return self._at

    def readinto(self, buffer: WriteableBuffer) -> int:
        """As many bytes as there are room and bytes for."""
        view = memoryview(buffer).cast("B")
        done = 0
        with self._refusals():
            while done < len(view) and self._at < self._size:
                start, piece = self._piece_at(self._at)
                part = piece[self._at - start : self._at - start + len(view) - done]
                if not part:
                    raise OSError(errno.EIO, "a piece of it is missing", str(self._path))
                view[done : done + len(part)] = part
                done += len(part)
                self._at += len(part)
        return done

    def write(self, data: ReadableBuffer) -> int:
        """All of it: over what is there, and on at the end. There are no holes."""
        rest = bytes(data)
        if self._at > self._size:
            rest = bytes(self._at - self._size) + rest
            self._at = self._size
        at = self._at
        with self._refusals():
            if self._grows:
                self._run("BEGIN IMMEDIATE")
            while rest:
                at, rest = self._put(at, rest)
            if self._grows:
                self._run("COMMIT")
        self._size, self._at = max(self._size, at), at
        return memoryview(data).nbytes

    def truncate(self, size: int | None = None) -> int:
        """Cut off what is behind a place (None: where one is); the size then."""
        size = min(self._at if size is None else size, self._size)
        with self._refusals():
            if self._grows:
                self._run("BEGIN IMMEDIATE")
            start, piece = self._piece_at(max(0, size - 1))
            self._run("DELETE FROM pieces WHERE start >= ?", size)
            self._run("UPDATE pieces SET bytes = ? WHERE start = ?", piece[: size - start], start)
            if self._grows:
                self._run("COMMIT")
        self._size, self._piece = size, (0, b"")
        return size

    def sync(self) -> None:
        """Put what was written on the disk."""
        with self._refusals():
            self._run("PRAGMA wal_checkpoint(PASSIVE)")

    def close(self) -> None:
        if self.closed:
            return
        try:
            with self._refusals():
                if self._mode == "new":
                    self._run("COMMIT")
                elif self._grows:
                    self._run("PRAGMA journal_mode = DELETE")
        finally:
            self._open.close()
            super().close()

    def _put(self, at: int, rest: bytes) -> tuple[int, bytes]:
        """Write the first of some bytes; the place after them, and those that are left."""
        if at >= self._size:
            part = rest[:_PIECE]
            self._run("INSERT INTO pieces VALUES (?, ?)", at, part)
        else:
            start, piece = self._piece_at(at)
            part = rest[: len(piece) - (at - start)]
            changed = piece[: at - start] + part + piece[at - start + len(part) :]
            self._run("UPDATE pieces SET bytes = ? WHERE start = ?", changed, start)
            self._piece = (0, b"")
        return at + len(part), rest[len(part) :]

    def _piece_at(self, at: int) -> tuple[int, bytes]:
        start, piece = self._piece
        if not start <= at < start + len(piece):
            query = "SELECT start, bytes FROM pieces WHERE start <= ? ORDER BY start DESC LIMIT 1"
            self._piece = self._run(query, at) or (at, b"")
        return self._piece

    def _run(self, statement: str, *values: object) -> tuple[int, bytes] | None:
        cursor = self._open.execute(statement, values)
        try:
            return cast("tuple[int, bytes] | None", cursor.fetchone())
        finally:
            cursor.close()

    @contextmanager
    def _refusals(self) -> Iterator[None]:
        try:
            yield
        except driver_errors() as error:
            with suppress(*driver_errors(), AttributeError):
                if self._grows and self._open.in_transaction:
                    self._open.execute("ROLLBACK")
            full = getattr(error, "sqlite_errorcode", 0) & 0xFF == sqlite3.SQLITE_FULL
            code = errno.ENOSPC if full else errno.EIO
            said = os.strerror(code) if full else f"it cannot be decrypted: {error}"
            raise OSError(code, said, str(self._path)) from error


class _Scratch(LockedFile):
    """One that goes when it is closed; what a kill leaves of it, nobody can read."""

    def close(self) -> None:
        super().close()
        self._path.unlink(missing_ok=True)
