"""What may be read at all: plain files of a likely size.

A device never ends, a pipe waits for its other end, and a settings file of a gigabyte is none.
Whoever opens a file that a person named asks here first; each format's own limits of depth and
number stand with its reader.
"""

from __future__ import annotations

import stat
from pathlib import Path

from voicelog.model.errors import VoicelogError

__all__ = ["OddFileError", "checked_file"]


class OddFileError(VoicelogError):
    """A file that is not read, since it is none or is far too large."""

    def __init__(self, path: Path, fault: str) -> None:
        super().__init__(f"{path} {fault}.")
        self.path, self.fault = path, fault


def checked_file(path: Path, most_bytes: int | None = None) -> None:
    """Raise OddFileError where `path` is there and is no plain file, or is larger than
    `most_bytes` (None: of any size). What is not there is told by whoever opens it."""
    try:
        found = path.stat()
    except OSError:
        return
    if stat.S_ISDIR(found.st_mode):
        raise OddFileError(path, "is a folder, and a file was wanted; name a file")
    if not stat.S_ISREG(found.st_mode):
        raise OddFileError(path, "is a device or a pipe, and a file was wanted; name a file")
    if most_bytes is not None and found.st_size > most_bytes:
        fault = f"holds {found.st_size:,} bytes, far more than the {most_bytes:,} that it can mean"
        raise OddFileError(path, f"{fault}; look whether it is the right file")
