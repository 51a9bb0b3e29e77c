"""The process that hears what came into a log, beside the page, one file at a time."""

from __future__ import annotations

import signal
import sys
from collections.abc import Mapping
from multiprocessing import get_context
from multiprocessing.process import BaseProcess
from pathlib import Path
from threading import Lock

from voicelog.app.incoming import hear_incoming, incoming_files, is_hearing
from voicelog.app.parallel import take_keys
from voicelog.audio.locked_files import folder_keys

__all__ = ["HearingProcess"]


class HearingProcess:
    """Hears what waits in the log's `folder` whenever it is asked to; it ends with `close`, and
    what it had not finished is gone on with the next time."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._running: BaseProcess | None = None
        self._one = Lock()

    def wake(self) -> None:
        """See that what waits is heard; at once where it is, or nothing waits."""
        with self._one:
            if self._running is not None and self._running.is_alive():
                return
            waits = any(one.state in ("waiting", "hearing") for one in incoming_files(self.folder))
            if not waits or is_hearing(self.folder):
                return
            context = get_context("spawn")
            known = (self.folder, folder_keys())
            # no daemon, since the careful listener is a process of its own
            self._running = context.Process(target=_hear, args=known)
            self._running.start()

    def close(self) -> None:
        """End it."""
        with self._one:
            if self._running is not None:
                self._running.terminate()
                self._running.join(timeout=5.0)
                self._running = None


def _hear(folder: Path, keys: Mapping[Path, bytes]) -> None:
    signal.signal(signal.SIGTERM, lambda number, frame: sys.exit(1))  # its own listeners end too
    take_keys(keys)  # nobody can be asked for a passphrase here
    hear_incoming(folder)
