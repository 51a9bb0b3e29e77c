"""Unpack an archive from a stranger: everything is checked before the first byte is written.

Only plain files and folders are taken, only below the folder given, each name once, and no
more than the archive could honestly hold. Anything else in it refuses the whole.
"""

from __future__ import annotations

import gzip
import lzma
import stat
import tarfile
import zipfile
import zlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path, PurePosixPath
from typing import IO, NamedTuple

from voicelog.model import VoicelogError

__all__ = ["ArchiveError", "unpack"]

MOST = 8 << 30
"""Bytes that an archive may unpack to."""
RATIO, SLACK = 50, 100 << 20
"""... and no more than so many times its own size, and this many bytes besides."""
MEMBERS = 2_000
DEPTH = 8
_CHUNK = 1 << 18
_DAMAGED = (
    zipfile.BadZipFile,
    tarfile.TarError,
    gzip.BadGzipFile,
    zlib.error,
    lzma.LZMAError,
    EOFError,
)
_LEFT_BY_SYSTEMS = frozenset({"__MACOSX", ".DS_Store", "Thumbs.db"})


class ArchiveError(VoicelogError):
    """An archive that is not taken."""


class _BadMemberError(Exception):
    """What is wrong with a member, as part of a sentence."""


class _Member(NamedTuple):
    """A file in an archive: its name, its declared size (bytes), and how to read it."""

    name: str
    size: int
    open: Callable[[], IO[bytes]]


def unpack(archive: Path, into: Path, *, most: int = MOST) -> None:
    """Unpack a zip or tar archive into the folder `into`, which must be new or empty.

    Raises ArchiveError, with nothing of it to be trusted in `into`, when it is no archive,
    is damaged, or holds what it should not.
    """
    most = min(most, archive.stat().st_size * RATIO + SLACK)
    members = _zipped if zipfile.is_zipfile(archive) else _tarred
    try:
        with members(archive) as found:
            names = _looked_through(found, most)
        with members(archive) as found:
            for member in found:
                if member.name in names:
                    _write(member, into / member.name)
    except _BadMemberError as problem:
        raise ArchiveError(
            f"Found {problem} in '{archive.name}', wanted a plain model's archive; nothing of "
            "it was kept, get it from its publisher."
        ) from problem
    except _DAMAGED as problem:
        raise ArchiveError(
            f"Found '{archive.name}' damaged or no archive, wanted a model's .zip or .tar "
            "archive; get it again."
        ) from problem
    except (NotImplementedError, RuntimeError) as problem:  # packed or locked in a rare way
        raise ArchiveError(
            f"Found '{archive.name}' packed in a way that cannot be read ({problem}), wanted a "
            "plain .zip or .tar archive; pack it again."
        ) from problem
    except OSError as problem:
        raise ArchiveError(
            f"Found no way to unpack '{archive.name}' ({problem.strerror or problem}), wanted a "
            "whole archive and a folder with free space; look at both and try again."
        ) from problem


def _looked_through(members: Iterator[_Member], most: int) -> frozenset[str]:
    """The names to unpack, all of them good."""
    names: dict[str, str] = {}
    total = 0
    for count, member in enumerate(members, start=1):
        path = PurePosixPath(member.name)
        total += member.size
        if count > MEMBERS:
            raise _BadMemberError(f"more than {MEMBERS} files")
        if total > most:
            raise _BadMemberError(f"more than {most / 1e6:.0f} MB")
        if _LEFT_BY_SYSTEMS.intersection(path.parts):
            continue
        if not _stays_inside(member.name):
            raise _BadMemberError(f"a file that would lie outside its folder ({member.name!r})")
        alike = str(path).casefold()
        if alike in names:
            raise _BadMemberError(f"two files of the name {member.name!r}")
        names[alike] = member.name
    if not names:
        raise _BadMemberError("no file")
    return frozenset(names.values())


def _stays_inside(name: str) -> bool:
    path = PurePosixPath(name)
    return (
        not path.is_absolute()
        and 0 < len(path.parts) <= DEPTH
        and ".." not in name.split("/")
        and not any(character in name for character in "\\:\0")
        and all(len(part) < 200 for part in path.parts)
    )


def _write(member: _Member, path: Path) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    left = member.size
    with member.open() as source, path.open("xb") as file:
        while chunk := source.read(_CHUNK):
            left -= len(chunk)
            if left < 0:
                raise _BadMemberError(f"more in {member.name!r} than it says")
            file.write(chunk)
    if left:
        raise _BadMemberError(f"less in {member.name!r} than it says")


@contextmanager
def _zipped(path: Path) -> Iterator[Iterator[_Member]]:
    with zipfile.ZipFile(path) as archive:

        def members() -> Iterator[_Member]:
            for info in archive.infolist():
                kind = stat.S_IFMT(info.external_attr >> 16)
                if info.is_dir():
                    continue
                if kind not in (0, stat.S_IFREG):
                    raise _BadMemberError(f"a link or device ({info.filename!r})")
                yield _Member(info.filename, info.file_size, partial(archive.open, info))

        yield members()


@contextmanager
def _tarred(path: Path) -> Iterator[Iterator[_Member]]:
    with tarfile.open(path, "r:*") as archive:

        def opened(info: tarfile.TarInfo) -> IO[bytes]:
            file = archive.extractfile(info)
            assert file is not None  # it is a regular file
            return file

        def members() -> Iterator[_Member]:
            for info in archive:
                if info.isdir():
                    continue
                if not info.isreg():
                    raise _BadMemberError(f"a link or device ({info.name!r})")
                yield _Member(info.name, info.size, partial(opened, info))

        yield members()
