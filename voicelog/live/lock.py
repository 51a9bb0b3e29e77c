"""One live session at a time on one log: a lock that dies with the program that holds it."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from voicelog.app.listening import LOCK_NAME, PID_NAME
from voicelog.model import VoicelogError
from voicelog.store.file_lock import file_lock

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
    """Be the one live session of a log's folder (AlreadyListeningError where there is another), and
    write down which process that is."""
    with file_lock(folder / LOCK_NAME) as free:
        if not free:
            raise AlreadyListeningError(folder)
        (folder / PID_NAME).write_text(str(os.getpid()), encoding="ascii")
        yield
