"""A process of its own for work on a log that goes on beside the page."""

from __future__ import annotations

import signal
import sys
from collections.abc import Callable, Mapping
from multiprocessing import get_context
from multiprocessing.process import BaseProcess
from pathlib import Path
from threading import Lock

from voicelog.app.parallel import take_keys
from voicelog.audio.locked_files import folder_keys

__all__ = ["OwnProcess"]

_END_S = 5.0
"""How long its end is waited for, s."""


class OwnProcess:
    """At most one process at a time that does `work` for the log in `folder`; it knows the keys
    that are known here, since nobody can be asked for a passphrase there. For any thread."""

    def __init__(self, work: Callable[[Path], None], folder: Path) -> None:
        self._work, self._folder = work, folder
        self._running: BaseProcess | None = None
        self._one = Lock()

    def start(self, due: Callable[[], bool]) -> None:
        """Begin it, where it is not at work and `due` says that there is something to do."""
        with self._one:
            if self._running is not None and self._running.is_alive():
                return
            if not due():
                return
            # no daemon, since the careful listener is a process of its own
            self._running = get_context("spawn").Process(
                target=_begin, args=(self._work, self._folder, folder_keys())
            )
            self._running.start()

    def close(self) -> None:
        """End it."""
        with self._one:
            if self._running is not None:
                self._running.terminate()
                self._running.join(timeout=_END_S)
                self._running = None


def _begin(work: Callable[[Path], None], folder: Path, keys: Mapping[Path, bytes]) -> None:
    signal.signal(signal.SIGTERM, lambda number, frame: sys.exit(1))  # its own listeners end too
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # whoever started it ends it
    take_keys(keys)
    work(folder)
