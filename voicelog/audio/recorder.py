"""Sound to disk as it comes, so that a kill at any moment costs a second at most.

The file is a WAV whose length is left open while it grows: every reader takes such a file
to its last byte, however it was cut. Bytes are written at a known place, so a write that
failed half way (a full disk) is simply done again; until it succeeds sound waits in memory.
"""

from __future__ import annotations

import errno
import os
import struct
from collections import deque
from contextlib import suppress
from datetime import datetime
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from voicelog.audio.locked_files import LockedFile, folder_key, open_bytes
from voicelog.audio.resampling import RATE, Samples

__all__ = ["Pcm", "Recorder", "as_float", "as_pcm", "read_pcm"]

Pcm = NDArray[np.int16]
"""Mono samples at RATE as 16-bit signed integers, shape (n,)."""

_OPEN = 0xFFFFFFFF
_WIDTH = 2
_SYNC = RATE * _WIDTH
"""Bytes after which the file is put on disk: one second of sound."""


def as_pcm(sound: Samples) -> Pcm:
    """Samples as they are kept; what is outside full scale is limited."""
    limited: Pcm = np.clip(np.rint(sound * 32768.0), -32768, 32767).astype(np.int16)
    return limited


def as_float(sound: Pcm) -> Samples:
    """Kept samples as the listeners take them, exactly as a reader of the file gives them."""
    return sound.astype(np.float32) / np.float32(32768.0)


class Recorder:
    """A growing WAV of 16 kHz mono, 16 bits.

    `write` and `close` raise nothing when the disk refuses: `trouble` then says why, in the
    system's words, and `unsaved_s` how much sound is in memory only. Each `write` tries again.
    Creating it raises OSError.

    Args:
        path: a file that is not there yet.
        started_at: when it begins, kept in the file.
        after: go on with a file that is there instead, behind that many of its samples; what is
            there after them is overwritten or cut off.
    """

    def __init__(
        self, path: Path, started_at: datetime | None = None, *, after: int | None = None
    ) -> None:
        self.path = path
        self.trouble: str | None = None
        self._header = _header(started_at) if after is None else _header_of(path)
        key = folder_key(path.parent)
        self._file = (
            _PlainFile(path, there=after is not None)
            if key is None
            else LockedFile(path, key, "grow" if after is None else "more")
        )
        self._waiting: deque[bytes] = deque()
        self._end = 0
        self._synced = 0
        if after is not None:
            self._end = self._synced = len(self._header) + after * _WIDTH
            self._file.truncate(self._end)
            return
        try:
            self._put(self._header)
            self._file.sync()
        except OSError:
            self._file.close()
            path.unlink(missing_ok=True)
            raise

    @property
    def written_s(self) -> float:
        """Seconds of sound in the file."""
        return (self._end - len(self._header)) / _WIDTH / RATE

    @property
    def unsaved_s(self) -> float:
        """Seconds of sound that are in memory only."""
        return sum(map(len, self._waiting)) / _WIDTH / RATE

    def write(self, sound: Pcm) -> None:
        """Add sound; it is in the file when this returns, unless `trouble` says otherwise."""
        self._waiting.append(sound.astype("<i2").tobytes())
        self._flush()

    def sync(self) -> bool:
        """Put all that was written on the disk itself; whether it is there."""
        self._flush()
        if self.trouble is None:
            try:
                self._file.sync()
                self._synced = self._end
            except OSError as error:
                self.trouble = error.strerror or str(error)
        return self.trouble is None

    def abandon(self) -> None:
        """Let go of the file as it is, and of what waits."""
        with suppress(OSError):
            self._file.close()

    def close(self) -> None:
        """Write what waits, state the length in the header, and let go of the file."""
        self._flush()
        try:
            size = self._end
            self._file.seek(4)
            self._file.write(struct.pack("<I", min(size - 8, _OPEN)))
            self._file.seek(len(self._header) - 4)
            self._file.write(struct.pack("<I", min(size - len(self._header), _OPEN)))
            self._file.sync()
        except OSError as error:
            self.trouble = error.strerror or str(error)
        finally:
            with suppress(OSError):
                self._file.close()

    def _flush(self) -> None:
        try:
            while self._waiting:
                self._put(self._waiting[0])
                self._waiting.popleft()
            if self._end - self._synced >= _SYNC:
                self._file.sync()
                self._synced = self._end
            self.trouble = None
        except OSError as error:
            self.trouble = error.strerror or str(error)

    def _put(self, data: bytes) -> None:
        """All of `data` at the end, or nothing that counts."""
        self._file.seek(self._end)
        rest = memoryview(data)
        while rest:
            rest = rest[self._file.write(rest) :]
        self._end += len(data)


class _PlainFile:
    """A file that is not locked, new or `there` already, as the system has it."""

    def __init__(self, path: Path, there: bool) -> None:
        flags = os.O_WRONLY | getattr(os, "O_BINARY", 0)
        flags |= 0 if there else os.O_CREAT | os.O_EXCL
        self._handle = os.open(path, flags, 0o600)  # nobody else's business

    def seek(self, at: int) -> None:
        os.lseek(self._handle, at, os.SEEK_SET)

    def write(self, data: bytes | memoryview) -> int:
        return os.write(self._handle, data)

    def truncate(self, size: int) -> None:
        os.ftruncate(self._handle, size)

    def sync(self) -> None:
        os.fsync(self._handle)

    def close(self) -> None:
        os.close(self._handle)


def read_pcm(path: Path, start: int = 0, most: int | None = None) -> Pcm:
    """The sound of a file that a Recorder made, whole or still growing: from the sample `start` on,
    `most` samples, or to its last."""
    if path.stat().st_size == 0:  # killed as it was made, before anything was written
        return np.zeros(0, np.int16)
    with open_bytes(path) as file:
        head = file.read(1024) or b""
        if b"data" not in head:  # killed before the header was whole
            return np.zeros(0, np.int16)
        file.seek(head.index(b"data") + 8 + start * _WIDTH)
        data = file.readall() if most is None else file.read(most * _WIDTH) or b""
    return np.frombuffer(data[: len(data) // _WIDTH * _WIDTH], "<i2").astype(np.int16)


def _header_of(path: Path) -> bytes:
    """The header of a file that a Recorder made; OSError where it has none."""
    with open_bytes(path) as file:
        head = file.read(1024) or b""
    if b"data" not in head:
        raise OSError(errno.EINVAL, "it has no header", str(path))
    return head[: head.index(b"data") + 8]


def _header(started_at: datetime | None) -> bytes:
    """A WAV header that leaves the length open, with the start where it is known."""
    info = b""
    if started_at is not None:
        when = started_at.isoformat(timespec="seconds").encode() + b"\0"
        when += b"\0" * (len(when) % 2)
        body = b"INFOICRD" + struct.pack("<I", len(when)) + when
        info = b"LIST" + struct.pack("<I", len(body)) + body
    form = struct.pack("<4sIHHIIHH", b"fmt ", 16, 1, 1, RATE, RATE * _WIDTH, _WIDTH, 16)
    return b"RIFF" + struct.pack("<I", _OPEN) + b"WAVE" + form + info + b"data" + _OPEN_BYTES


_OPEN_BYTES = struct.pack("<I", _OPEN)
