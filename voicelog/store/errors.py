"""What can go wrong with the log, one sentence each, and the translation from SQLite.

SQLite's own words ("unable to open database file") help nobody in a kennel. Every error
here says what was found, what was wanted and what to try, and carries the same as data.
"""

from __future__ import annotations

import errno
import shutil
import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path

from sqlalchemy.exc import DBAPIError

from voicelog.audio.locked_files import driver_errors
from voicelog.model import VoicelogError
from voicelog.model.day_words import date_words

__all__ = [
    "ConcurrentChangeError",
    "DamagedLogError",
    "DeletedError",
    "DiskFullError",
    "EventConflictError",
    "FileAccessError",
    "LogBusyError",
    "LogError",
    "LogPermissionError",
    "NewerLogError",
    "NotALogError",
    "SoundMismatchError",
    "UnknownNameError",
    "UnknownTargetError",
    "translate_errors",
]


class LogError(VoicelogError):
    """Base of everything the log refuses."""


class NotALogError(LogError):
    """The place named for the log is something else."""

    def __init__(self, path: Path, found: str, wanted: str) -> None:
        super().__init__(f"{path} is {found}, not {wanted}: choose another folder with --data-dir.")
        self.path, self.found, self.wanted = path, found, wanted


class LogPermissionError(LogError):
    """The operating system does not let us write where the log is."""

    def __init__(self, path: Path) -> None:
        super().__init__(
            f"{path} may not be written by this user, which the log needs: "
            "give write access, or choose another folder with --data-dir."
        )
        self.path = path


class NewerLogError(LogError):
    """A later version of the program has changed the log's shape."""

    def __init__(self, path: Path, found: str, known: str) -> None:
        super().__init__(
            f"{path} was written by a newer voicelog (log version {found}, this program knows "
            f"up to {known}) and was left untouched: install the newer voicelog."
        )
        self.path, self.found, self.known = path, found, known


class DamagedLogError(LogError):
    """The database file cannot be read as one."""

    def __init__(self, path: Path, reason: str) -> None:
        super().__init__(
            f"{path} is damaged ({reason}): move it away and put the newest backup in its place."
        )
        self.path, self.reason = path, reason


class LogBusyError(LogError):
    """Another program held the database longer than anyone should."""

    def __init__(self, path: Path) -> None:
        super().__init__(
            f"{path} is held by another program, and waiting for it did not help: "
            "close that program and try again."
        )
        self.path = path


class DiskFullError(LogError):
    """The disk is full."""

    def __init__(self, path: Path) -> None:
        super().__init__(
            f"The disk that holds {path} is full, so this step was not kept: "
            "free some space and try again."
        )
        self.path = path


class FileAccessError(LogError):
    """A file could not be read or written, for a reason only the system knows."""

    def __init__(self, path: Path, reason: str) -> None:
        super().__init__(
            f"{path} could not be used ({reason}): check the file and its disk, and try again."
        )
        self.path, self.reason = path, reason


class DeletedError(LogError):
    """A recording that the owner deleted comes back."""

    def __init__(self, recording: str, since: str) -> None:
        super().__init__(
            f"The recording {recording[:12]} was deleted from this log on "
            f"{date_words(date.fromisoformat(since[:10]))}, and what was deleted stays deleted: to "
            "keep it after all, add it to another log (--data-dir)."
        )
        self.recording, self.since = recording, since


class SoundMismatchError(LogError):
    """A sound file is not the one it was said to be."""

    def __init__(self, path: Path, wanted: str, found: str) -> None:
        super().__init__(
            f"{path} has the checksum {found[:12]}, not {wanted[:12]} as when it was first read: "
            "wait until nothing writes to it, and add it again."
        )
        self.path, self.wanted, self.found = path, wanted, found


class EventConflictError(LogError):
    """An event came again under the same id, saying something else."""

    def __init__(self, event_id: str) -> None:
        super().__init__(
            f"Event {event_id} is already in the log and says something else, and the log is "
            "never rewritten: give the new event an id of its own."
        )
        self.event_id = event_id


class UnknownTargetError(LogError):
    """Something was said about an id that the log does not hold."""

    def __init__(self, about: str, target: str) -> None:
        super().__init__(
            f"{about} names {target}, which is not in this log: "
            "check the id, or add the recording it belongs to first."
        )
        self.about, self.target = about, target


class ConcurrentChangeError(LogError):
    """Somebody else has added to a recording since it was looked at."""

    def __init__(self, recording: str) -> None:
        super().__init__(
            f"Recording {recording[:12]} was added to meanwhile, so this step was not kept: "
            "check it again, and repeat the step."
        )
        self.recording = recording


class UnknownNameError(LogError):
    """A dog or handler that the roster does not have."""

    def __init__(self, kind: str, name: str, known: Iterable[str]) -> None:
        self.kind, self.name, self.known = kind, name, tuple(known)
        have = ", ".join(self.known) or "none yet"
        super().__init__(
            f"No {kind} called {name} is in the log: choose one of those it has ({have})."
        )


_DAMAGED = {sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB}
_DENIED = {
    sqlite3.SQLITE_READONLY,
    sqlite3.SQLITE_CANTOPEN,
    sqlite3.SQLITE_PERM,
    sqlite3.SQLITE_AUTH,
}
_BUSY = {sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED}
_SPACE_TO_READ = 64 << 10
"""Bytes that SQLite needs on the disk beside a database with write-ahead log."""
_NOT_OURS = (
    *("Could not decode", "no such table", "no such column", "malformed"),
    "unsupported file format",
)
"""What SQLite says, as a mistake of ours, of tables that somebody or something changed."""
_DENIED_BY_SYSTEM = {errno.EACCES, errno.EPERM, errno.EROFS}


def _said(path: Path, error: BaseException) -> LogError | None:
    if str(error).startswith(_NOT_OURS):
        return DamagedLogError(path, str(error)[:60])
    code = getattr(error, "sqlite_errorcode", None)
    if code is None:
        return None
    primary = code & 0xFF  # the rest of an extended code is detail
    if primary in _DAMAGED:
        return DamagedLogError(path, str(error))
    if primary in _DENIED:
        return LogPermissionError(path)
    if primary in _BUSY:
        return LogBusyError(path)
    if primary == sqlite3.SQLITE_FULL:
        return DiskFullError(path)
    if primary == sqlite3.SQLITE_IOERR:
        if _is_full(path):  # where SQLite could not make a file that it needs to read
            return DiskFullError(path)
        return FileAccessError(path, str(error))
    return None


def _is_full(path: Path) -> bool:
    try:
        return shutil.disk_usage(path.parent).free < _SPACE_TO_READ
    except OSError:
        return False


@contextmanager
def translate_errors(path: Path) -> Iterator[None]:
    """Say what SQLite or the system reports about `path` as a LogError.

    Mistakes of the program itself (a wrong statement, a broken constraint) pass unchanged.
    """
    try:
        yield
    except DBAPIError as error:
        said = _said(path, error.orig) if isinstance(error.orig, driver_errors()) else None
        if said is None:
            raise
        raise said from error
    except driver_errors() as error:
        said = _said(path, error)
        if said is None:
            raise
        raise said from error
    except UnicodeDecodeError as error:
        raise DamagedLogError(path, "text that is none") from error
    except OSError as error:
        if error.errno in _DENIED_BY_SYSTEM:
            raise LogPermissionError(path) from error
        if error.errno == errno.ENOSPC:
            raise DiskFullError(path) from error
        raise FileAccessError(path, error.strerror or str(error)) from error
