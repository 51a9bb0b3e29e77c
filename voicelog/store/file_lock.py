"""A lock on a file that dies with the program that holds it, on every system."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

__all__ = ["file_lock", "is_locked"]


@contextmanager
def file_lock(path: Path) -> Iterator[bool]:
    """Hold the lock of `path` (made where it is missing); False is given where another program has
    it, and nothing is waited for."""
    handle = os.open(path, os.O_RDWR | os.O_CREAT, 0o600)
    try:
        try:
            _lock(handle)
        except OSError:
            yield False
            return
        yield True
    finally:
        os.close(handle)


def is_locked(path: Path) -> bool:
    """Whether a program holds the lock of `path`, at this moment."""
    if not path.exists():
        return False
    with file_lock(path) as free:
        return not free


def _lock(handle: int) -> None:
    if sys.platform == "win32":
        import msvcrt  # of Windows only

        msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
    else:
        import fcntl  # of every other system

        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
