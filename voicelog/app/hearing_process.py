"""The process that hears what came into a log, beside the page, one file at a time."""

from __future__ import annotations

from pathlib import Path

from voicelog.app.incoming import hear_incoming, incoming_files, is_hearing
from voicelog.app.own_process import OwnProcess

__all__ = ["HearingProcess"]


class HearingProcess:
    """Hears what waits in the log's `folder` whenever it is asked to; it ends with `close`, and
    what it had not finished is gone on with the next time."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._process = OwnProcess(hear_incoming, folder)

    def wake(self) -> None:
        """See that what waits is heard; at once where it is, or nothing waits."""
        self._process.start(self._waits)

    def close(self) -> None:
        """End it."""
        self._process.close()

    def _waits(self) -> bool:
        waiting = any(one.state in ("waiting", "hearing") for one in incoming_files(self.folder))
        return waiting and not is_hearing(self.folder)
