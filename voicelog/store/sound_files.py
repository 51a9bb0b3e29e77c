"""Keep a sound file beside the log: the whole of it, once, under the name of its hash."""

from __future__ import annotations

import codecs
import hashlib
import os
import re
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from voicelog.audio.locked_files import open_bytes, write_bytes
from voicelog.store.database import sync_file, sync_folder
from voicelog.store.errors import (
    FileAccessError,
    NotALogError,
    SoundMismatchError,
    translate_errors,
)
from voicelog.store.records import SHA256

__all__ = [
    "NAME",
    "adopt",
    "copy_bytes",
    "keep",
    "partial",
    "remove",
    "sha256_of",
    "typed_lines",
    "whole_bytes",
]

NAME = re.compile(rf"sound/{SHA256}\.[^/\\\0]{{1,32}}")
"""A kept file as a recording names it: relative to the log's folder."""
_SUFFIX = re.compile(r"\.[a-z0-9]{1,16}")

ABANDONED_S = 3600.0
"""A copy not written to for this long (seconds) was left by a program that was killed."""


def sha256_of(path: Path) -> str:
    """The sha256 of a file's bytes, lower-case hexadecimal. `path` is read in pieces."""
    with open_bytes(path) as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def keep(path: Path, sha256: str, folder: Path) -> Path:
    """Copy `path` into `folder` and return the copy, which is on disk and has that hash.

    The same hash twice is one file, whatever the files were called.

    Raises:
        ValueError: `sha256` is not a sha256.
        FileAccessError: `path` cannot be read.
        SoundMismatchError: the bytes do not have that hash; nothing is kept.
        LogPermissionError, DiskFullError: the copy cannot be written.
    """
    if not re.fullmatch(SHA256, sha256):
        raise ValueError(f"not a sha256 in lower-case hexadecimal: {sha256!r}")
    with translate_errors(folder):
        try:
            folder.mkdir(mode=0o700, exist_ok=True)
        except FileExistsError as error:
            raise NotALogError(folder, "a file", "a folder for sound") from error
        for kept in folder.glob(f"{sha256}.*"):
            if kept.suffix != ".part" and sha256_of(kept) == sha256:
                return kept
        return _copy(path, sha256, folder)


def _copy(path: Path, sha256: str, folder: Path) -> Path:
    with partial(folder, sha256) as copy:
        copy_bytes(path, copy)
        found = sha256_of(copy)
        if found != sha256:
            raise SoundMismatchError(path, sha256, found)
        return adopt(copy, path.suffix)


@contextmanager
def partial(folder: Path, prefix: str) -> Iterator[Path]:
    """An empty file in the folder of sound, to be filled and adopted; else it goes."""
    with translate_errors(folder):
        folder.mkdir(mode=0o700, exist_ok=True)
        handle, name = tempfile.mkstemp(prefix=f"{prefix}.", suffix=".part", dir=folder)
        os.close(handle)
        try:
            _drop_abandoned(folder, Path(name).stat().st_mtime)
            yield Path(name)
        finally:
            Path(name).unlink(missing_ok=True)


def adopt(copy: Path, suffix: str) -> Path:
    """Put a partial file on disk under the name of its hash; its new path."""
    sync_file(copy)
    plain = suffix.lower() if _SUFFIX.fullmatch(suffix.lower()) else ".sound"
    kept = copy.with_name(f"{sha256_of(copy)}{plain}")
    copy.replace(kept)
    sync_folder(kept.parent)
    return kept


def copy_bytes(source: Path, target: Path, *lines: bytes) -> None:
    """Copy a file's bytes, whichever of the two is locked. `lines`: these instead of them.

    Raises:
        FileAccessError: `source` cannot be read.
        OSError: `target` cannot be written.
    """
    with write_bytes(target) as out:
        for chunk in lines or _chunks(source):
            out.write(chunk)


def whole_bytes(path: Path) -> bytes:
    """All bytes of a file, locked or not; of typed notes, not of sound. Raises OSError."""
    with open_bytes(path) as file:
        return file.readall()


def remove(sha256: str, folder: Path) -> None:
    """Remove the file of that hash, whatever its suffix, and partial copies of it."""
    for kept in folder.glob(f"{sha256}.*"):
        kept.unlink(missing_ok=True)


def typed_lines(path: Path, silent: Sequence[tuple[float, float]]) -> bytes | None:
    """A typed recording with the lines that start in some stretches (s) left empty.

    None where the file is not one: then it is sound that nobody can decode.
    """
    left = []
    for line in whole_bytes(path).splitlines():
        at = 0.0
        if line.strip() and not line.startswith(b"#"):
            try:
                at = float(line.split(b"\t")[0].removeprefix(codecs.BOM_UTF8))
            except ValueError:
                return None
        left.append(b"" if any(start <= at < end for start, end in silent) else line)
    return b"\n".join(left) + b"\n"


def _chunks(path: Path) -> Iterator[bytes]:
    try:
        with open_bytes(path) as source:
            while chunk := source.read(1 << 20):
                yield chunk
    except OSError as error:
        raise FileAccessError(path, error.strerror or str(error)) from error


def _drop_abandoned(folder: Path, now_s: float) -> None:
    """Remove old partial copies; `now_s` is a time of the same disk's clock, so they agree."""
    for copy in folder.glob("*.part"):
        try:
            if now_s - copy.stat().st_mtime > ABANDONED_S:
                copy.unlink()
        except FileNotFoundError:
            continue  # its owner has just renamed it
