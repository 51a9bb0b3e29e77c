"""Commit to the log, and go on in memory while the disk refuses.

Nothing is dropped: what could not be written waits, in order, and is written first when
the disk takes it again. Until then no tone says that it was.
"""

from __future__ import annotations

from collections.abc import Sequence

from voicelog.model import Event
from voicelog.store import DiskFullError, FileAccessError, Log, LogBusyError, LogPermissionError
from voicelog.store.errors import LogError

__all__ = ["CommitBuffer"]

_MAY_PASS = (DiskFullError, FileAccessError, LogBusyError, LogPermissionError)


class CommitBuffer:
    """The way of one live recording's events into the log."""

    def __init__(self, log: Log) -> None:
        self._log = log
        self._waiting: list[Sequence[Event]] = []
        self.trouble: LogError | None = None

    @property
    def waiting(self) -> int:
        """How many commits are in memory only."""
        return len(self._waiting)

    def keep(self, events: Sequence[Event]) -> bool:
        """Commit events together; whether they, and all before them, are on disk."""
        self._waiting.append(tuple(events))
        return self.retry()

    def retry(self) -> bool:
        """Write what waits; whether nothing is left. Mistakes of the program are raised."""
        try:
            while self._waiting:
                self._log.append(self._waiting[0])
                self._waiting.pop(0)
        except _MAY_PASS as error:
            self.trouble = error
            return False
        self.trouble = None
        return True
