"""Keep a sound file beside the log: the whole of it, once, under the name of its hash."""

from __future__ import annotations

import hashlib
import os
import re
import tempfile
from collections.abc import Iterator
from pathlib import Path

from voicelog.log.database import sync_folder
from voicelog.log.errors import NotALogError, SoundDiffersError, UnreadableError, plainly
from voicelog.log.records import SHA256

__all__ = ["keep", "sha256_of"]

ABANDONED_S = 3600.0
"""A copy not written to for this long (seconds) was left by a program that was killed."""


def sha256_of(path: Path) -> str:
    """The sha256 of a file's bytes, lower-case hexadecimal."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def keep(path: Path, sha256: str, folder: Path) -> Path:
    """Copy `path` into `folder` and return the copy, which is on disk and has that hash.

    The same hash twice is one file, whatever the files were called.

    Raises:
        ValueError: `sha256` is not a sha256.
        UnreadableError: `path` cannot be read.
        SoundDiffersError: the bytes do not have that hash; nothing is kept.
        LogDeniedError, DiskFullError: the copy cannot be written.
    """
    if not re.fullmatch(SHA256, sha256):
        raise ValueError(f"not a sha256 in lower-case hexadecimal: {sha256!r}")
    with plainly(folder):
        try:
            folder.mkdir(exist_ok=True)
        except FileExistsError as error:
            raise NotALogError(folder, "a file", "a folder for sound") from error
        for kept in folder.glob(f"{sha256}.*"):
            if kept.suffix != ".part" and sha256_of(kept) == sha256:
                return kept
        return _copy(path, sha256, folder)


def _copy(path: Path, sha256: str, folder: Path) -> Path:
    handle, name = tempfile.mkstemp(prefix=f"{sha256}.", suffix=".part", dir=folder)
    partial = Path(name)
    try:
        with os.fdopen(handle, "wb") as copy:
            _drop_abandoned(folder, partial.stat().st_mtime)
            for chunk in _chunks(path):
                copy.write(chunk)
            copy.flush()
            os.fsync(copy.fileno())
        found = sha256_of(partial)
        if found != sha256:
            raise SoundDiffersError(path, sha256, found)
        kept = folder / f"{sha256}{path.suffix.lower() or '.sound'}"
        partial.replace(kept)
    finally:
        partial.unlink(missing_ok=True)
    sync_folder(folder)
    return kept


def _chunks(path: Path) -> Iterator[bytes]:
    try:
        with path.open("rb") as source:
            while chunk := source.read(1 << 20):
                yield chunk
    except OSError as error:
        raise UnreadableError(path, error.strerror or str(error)) from error


def _drop_abandoned(folder: Path, now_s: float) -> None:
    """Remove old partial copies; `now_s` is a time of the same disk's clock, so they agree."""
    for partial in folder.glob("*.part"):
        try:
            if now_s - partial.stat().st_mtime > ABANDONED_S:
                partial.unlink()
        except FileNotFoundError:
            continue  # its owner has just renamed it
