"""What a watch has found of each file, on disk, so that a restart does not hear or ask again.

It spares work and repeated questions, and nothing rests on it: whether a recording is in the log,
the log itself says, by its content. So a file that is missing or cannot be read is begun anew.
"""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

from pydantic import ValidationError

from voicelog.app.watch_arrivals import FileStamp
from voicelog.audio.locked_files import write_bytes
from voicelog.model import FrozenModel
from voicelog.model.watching import WatchOutcome
from voicelog.store.log_lock import work_folder
from voicelog.store.sound_files import whole_bytes

__all__ = ["SeenFile", "WatchState", "state_folder"]


def state_folder(log_folder: Path) -> Path:
    """Where what is known of watched folders lies: beside the log in `log_folder`, or of a locked
    one in a folder of its locked files."""
    place = work_folder(log_folder)
    return place if place == log_folder else place / "states"


class SeenFile(FrozenModel):
    """A file as it was when something became of it, and what. `sha256` is of its bytes;
    `reason` is a sentence or empty."""

    size: int
    mtime_ns: int
    outcome: WatchOutcome
    sha256: str | None
    reason: str = ""

    @property
    def stamp(self) -> FileStamp:
        return FileStamp(self.size, self.mtime_ns)


class _States(FrozenModel):
    format: int = 1
    folder: str
    files: dict[str, SeenFile]


class WatchState:
    """The files of one watched folder, by their path within it.

    Args:
        log_folder: the folder of the log, beside which it is kept.
        watched: the folder that is watched.
    """

    def __init__(self, log_folder: Path, watched: Path) -> None:
        folder = str(watched.resolve())
        name = hashlib.sha256(os.fsencode(folder)).hexdigest()[:12]
        self._folder = ascii(folder)
        self._path = state_folder(log_folder) / f"watch-{name}.json"
        self._changed = False
        self.files: dict[str, SeenFile] = {}
        try:
            self.files.update(_States.model_validate_json(whole_bytes(self._path)).files)
        except (OSError, ValidationError):
            return

    def put(self, name: str, seen: SeenFile) -> None:
        """Keep what became of a file; on disk with the next `save`. `name` is ASCII with escapes
        where it cannot be printed."""
        self.files[name] = seen
        self._changed = True

    def keep_only(self, names: set[str]) -> None:
        """Forget the files that are gone: all but `names`."""
        gone = self.files.keys() - names
        if gone:
            self.files = {name: seen for name, seen in self.files.items() if name in names}
            self._changed = True

    def save(self) -> None:
        """Write it where it has changed and the disk takes it."""
        if not self._changed:
            return
        new = self._path.with_suffix(".new")
        text = _States(folder=self._folder, files=self.files).model_dump_json(indent=1)
        try:
            new.parent.mkdir(mode=0o700, exist_ok=True)
            with write_bytes(new) as out:
                out.write(text.encode())
            os.replace(new, self._path)
            self._changed = False
        except OSError:
            return  # a full disk costs looking again after a restart, no more
