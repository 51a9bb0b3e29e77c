"""The page that is open already: found by who starts it again, so that a menu opens it twice.

While a page is served, its newest address stands in a file of the log's folder that only this user
can read, beside a lock that dies with its program.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from voicelog.store.file_lock import file_lock, is_locked

__all__ = ["RunningPage", "noted_page", "running_page"]


class RunningPage:
    """The note of one page that is served; `tell` it each new address."""

    def __init__(self, note: Path) -> None:
        self._note = note

    def tell(self, address: str) -> None:
        """Write down the newest address, that opens the page once."""
        part = self._note.with_suffix(".part")
        handle = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        with os.fdopen(handle, "w", encoding="ascii") as file:
            file.write(address)
        part.replace(self._note)


@contextmanager
def noted_page(folder: Path, port: int) -> Iterator[RunningPage]:
    """While inside, the page of the log in `folder` at that port is found."""
    note = _note(folder, port)
    with file_lock(note.with_suffix(".lock")):
        try:
            yield RunningPage(note)
        finally:
            note.unlink(missing_ok=True)


def running_page(folder: Path, port: int) -> str | None:
    """The newest address of the page of the log in `folder` that is served at that port by another
    program; None where there is none."""
    note = _note(folder, port)
    if not is_locked(note.with_suffix(".lock")):
        return None
    try:
        return note.read_text(encoding="ascii") or None
    except OSError:
        return None


def _note(folder: Path, port: int) -> Path:
    return folder / f"page-{port}.address"
