"""One live session at a time on one log: a lock that dies with the program that holds it."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from voicelog.model import VoicelogError

__all__ = ["AlreadyListeningError", "live_lock"]


class AlreadyListeningError(VoicelogError):
    """Another program listens into the same log."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        super().__init__(
            f"Found another 'voicelog listen' at work on {folder}, wanted one at a time; stop "
            "that one, or give this one a log of its own with --data-dir."
        )


@contextmanager
def live_lock(folder: Path) -> Iterator[None]:
    """Be the one live session of a log's folder (AlreadyListeningError where there is another)."""
    handle = os.open(folder / "listening.lock", os.O_RDWR | os.O_CREAT, 0o600)
    try:
        try:
            _lock(handle)
        except OSError as error:
            raise AlreadyListeningError(folder) from error
        yield
    finally:
        os.close(handle)


def _lock(handle: int) -> None:
    if sys.platform == "win32":
        import msvcrt  # of Windows only

        msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
    else:
        import fcntl  # of every other system

        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
