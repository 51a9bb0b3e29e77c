"""Bags: files with their checksums in one ZIP file (BagIt, RFC 8493), to be handed over.

A bag that comes in was made by who knows whom. Nothing in it is ever unpacked by its name: a
member is read by the program, and what is kept gets a name of our own. Before that the whole
bag is checked: names that lead elsewhere, links, encryption, members that unpack to far more
than they are, files without a checksum, checksums that do not agree.
"""

from __future__ import annotations

import hashlib
import io
import os
import re
import secrets
import stat
import struct
import zipfile
import zlib
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import BinaryIO, cast

from voicelog import __version__
from voicelog.audio.locked_files import LockedFile, folder_key, open_bytes, passphrase_key, salt_of
from voicelog.model.input_limits import OddFileError, checked_file
from voicelog.store.database import sync_file, sync_folder
from voicelog.store.errors import LogError, translate_errors
from voicelog.store.log_lock import WrongPassphraseError

__all__ = [
    "LOCKED_SUFFIX",
    "BagItArchive",
    "BagItError",
    "BagItWriter",
    "is_bagit",
    "open_bagit",
    "write_bagit",
]

LOCKED_SUFFIX = ".locked"
"""Of the name of a bag that only a passphrase opens."""
_CHUNK = 1 << 20
_MOST_MEMBERS = 100_000
_MOST_GROWTH = 100
"""A member may unpack to this many times its size; JSON lines of a log come to 10 to 20."""
_SLACK = 1 << 20
_MOST_TAG = 64 << 20
"""Bytes of a tag file, at most."""
_MOST_LINE = 16 << 20
_NAME = re.compile(r"(?:[A-Za-z0-9_-][A-Za-z0-9._-]*/)*[A-Za-z0-9_-][A-Za-z0-9._-]*")
_LINE = re.compile(r"([0-9A-Fa-f]{64})[ \t]+\*?(\S.*)")
_DECLARATION = "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
_BROKEN = (
    *(zipfile.BadZipFile, zlib.error, struct.error, EOFError, NotImplementedError),
    *(RuntimeError, ValueError, OverflowError),
)


class BagItError(LogError):
    """A bag that is not whole, or not safe to read."""

    def __init__(self, path: Path, fault: str) -> None:
        super().__init__(
            f"{path} {fault}, so nothing was taken from it: have it sent again by who made it."
        )
        self.path, self.fault = path, fault


def is_bagit(path: Path) -> bool:
    """Whether a file looks like a bag: a ZIP file, by its first bytes, or a locked one, by its
    name. `path` may be of anything."""
    try:
        checked_file(path)
        if path.suffix == LOCKED_SUFFIX:
            return True
        with open_bytes(path) as file:
            return file.read(4) in (b"PK\x03\x04", b"PK\x05\x06")
    except (OSError, OddFileError):
        return False


# --- write ------------------------------------------------------------------------------


class BagItWriter:
    """Takes the payload of a bag; see `write_bagit`."""

    def __init__(self, archive: zipfile.ZipFile, root: str, now: datetime) -> None:
        self._archive, self._root, self._now = archive, root, now
        self._sums: dict[str, str] = {}
        self._bytes = 0

    def add_text(self, name: str, lines: Iterable[str]) -> None:
        """Add lines of text as the payload file `name`."""
        self._add(f"data/{name}", (f"{line}\n".encode() for line in lines), zipfile.ZIP_DEFLATED)

    def add_file(
        self, name: str, file: Path, *, packed: bool = False, as_it_lies: bool = False
    ) -> None:
        """Add a file from disk as the payload file `name`, which is passed over where it is in the
        bag already: sound is named by its hash, and may be that of two recordings. A locked file
        goes in as it is when read, or still locked, `as_it_lies`."""
        if f"data/{name}" in self._sums:
            return
        method = zipfile.ZIP_DEFLATED if packed else zipfile.ZIP_STORED
        with file.open("rb") if as_it_lies else open_bytes(file) as source:
            self._add(f"data/{name}", iter(lambda: source.read(_CHUNK) or b"", b""), method)

    def finish(self, info: Mapping[str, str]) -> None:
        """Add the tag files; `info` goes into bag-info.txt."""
        known = {
            "Bag-Software-Agent": f"voicelog {__version__}",
            "Bagging-Date": f"{self._now:%Y-%m-%d}",
            "Payload-Oxum": f"{self._bytes}.{len(self._sums)}",
        }
        lines = (
            f"{key}: {' '.join(value.split())}\n" for key, value in (known | dict(info)).items()
        )
        manifest = "".join(f"{found}  {name}\n" for name, found in self._sums.items())
        self._sums = {}
        for name, text in zip(_TAGS, (_DECLARATION, "".join(lines), manifest), strict=True):
            self._add(name, [text.encode()], zipfile.ZIP_STORED)
        tags = "".join(f"{found}  {name}\n" for name, found in self._sums.items())
        self._add("tagmanifest-sha256.txt", [tags.encode()], zipfile.ZIP_STORED)

    def _add(self, name: str, chunks: Iterable[bytes], method: int) -> None:
        member = zipfile.ZipInfo(f"{self._root}/{name}", self._now.timetuple()[:6])
        member.compress_type = method
        member.external_attr = 0o644 << 16
        digest = hashlib.sha256()
        with self._archive.open(member, "w", force_zip64=True) as out:
            for chunk in chunks:
                out.write(chunk)
                digest.update(chunk)
                self._bytes += len(chunk)
        self._sums[name] = digest.hexdigest()


_TAGS = ("bagit.txt", "bag-info.txt", "manifest-sha256.txt")


@contextmanager
def write_bagit(
    path: Path, now: datetime, info: Mapping[str, str], passphrase: str | None = None
) -> Iterator[BagItWriter]:
    """A bag being written to `path`; it is there, whole, only once the block has ended well.

    With a `passphrase` the whole of it is a locked file, whose name should end in `LOCKED_SUFFIX`.

    Raises:
        LogPermissionError, DiskFullError, FileAccessError: as the system refuses to write.
    """
    part = path.with_name(f"{path.name}.part")
    root = re.sub(r"[^A-Za-z0-9_-]+", "-", path.stem).strip("-") or "bag"
    try:
        with (
            translate_errors(path),
            _new_file(part, passphrase) as file,
            zipfile.ZipFile(file, "w", allowZip64=True) as archive,
        ):
            writer = BagItWriter(archive, root, now)
            yield writer
            writer.finish(info)
        with translate_errors(path):
            sync_file(part)
            part.replace(path)
            sync_folder(path.parent)
    finally:
        part.unlink(missing_ok=True)


def _new_file(part: Path, passphrase: str | None) -> BinaryIO:
    part.unlink(missing_ok=True)
    if passphrase is not None:
        salt = secrets.token_bytes(16)
        raw = LockedFile(part, passphrase_key(passphrase, salt) + salt, "new")
        return cast("BinaryIO", io.BufferedRandom(raw, _CHUNK))
    key = folder_key(part.parent)
    if key is not None:
        return cast("BinaryIO", io.BufferedRandom(LockedFile(part, key, "new"), _CHUNK))
    # Nobody else's business.
    return os.fdopen(os.open(part, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o600), "w+b")


def _known_file(path: Path, passphrase: str | None) -> BinaryIO:
    if passphrase is None:
        return cast("BinaryIO", io.BufferedReader(open_bytes(path), 1 << 16))
    try:
        raw = LockedFile(path, passphrase_key(passphrase, salt_of(path)))
    except OSError as error:
        raise WrongPassphraseError(path) from error
    return cast("BinaryIO", io.BufferedReader(raw, 1 << 16))


# --- read -------------------------------------------------------------------------------


class BagItArchive:
    """A bag that was checked; its payload files by name, without "data/"."""

    def __init__(
        self, path: Path, archive: zipfile.ZipFile, members: Mapping[str, zipfile.ZipInfo]
    ) -> None:
        self.path = path
        self._archive, self._members = archive, members

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(name.removeprefix("data/") for name in self._members if "/" in name)

    def chunks(self, name: str) -> Iterator[bytes]:
        """The bytes of a payload file, in portions."""
        return self._chunks(f"data/{name}")

    def lines(self, name: str) -> Iterator[bytes]:
        """The lines of a payload file, one after the other."""
        with self._reading(name), self._archive.open(self._members[f"data/{name}"]) as file:
            while line := file.readline(_MOST_LINE):
                if len(line) == _MOST_LINE:
                    raise BagItError(self.path, f"has a line of unlikely length in {name}")
                yield line

    def verify(self) -> None:
        """Compare every file with its checksum.

        Raises:
            BagItError: one is missing, was not announced, or differs.
        """
        for manifest in ("manifest-sha256.txt", "tagmanifest-sha256.txt"):
            if manifest not in self._members:
                if manifest.startswith("tag"):
                    continue
                raise BagItError(self.path, "has no list of checksums (manifest-sha256.txt)")
            wanted = self._sums(manifest)
            payload = {name for name in self._members if name.startswith("data/")}
            if not manifest.startswith("tag") and payload != set(wanted):
                odd = sorted(payload ^ set(wanted))[0]
                raise BagItError(self.path, f"holds other files than it lists ({odd[:80]})")
            for name, digest in wanted.items():
                if name not in self._members:
                    raise BagItError(self.path, f"lacks {name[:80]}, which it lists")
                found = hashlib.sha256()
                for chunk in self._chunks(name):
                    found.update(chunk)
                if found.hexdigest() != digest:
                    raise BagItError(self.path, f"was changed or damaged on its way ({name})")

    def _sums(self, manifest: str) -> dict[str, str]:
        text = b"".join(self._chunks(manifest)).decode("utf-8", "replace")
        sums: dict[str, str] = {}
        for line in text.splitlines():
            match = _LINE.fullmatch(line.strip())
            if match is None:
                raise BagItError(self.path, "has a list of checksums with a line that is none")
            sums[match[2]] = match[1].lower()
        return sums

    def _chunks(self, name: str) -> Iterator[bytes]:
        with self._reading(name), self._archive.open(self._members[name]) as file:
            while chunk := file.read(_CHUNK):
                yield chunk

    @contextmanager
    def _reading(self, name: str) -> Iterator[None]:
        try:
            with translate_errors(self.path):
                yield
        except _BROKEN as error:
            raise BagItError(self.path, f"is damaged in {name}") from error


@contextmanager
def open_bagit(path: Path, passphrase: str | None = None) -> Iterator[BagItArchive]:
    """A bag from disk, wholly checked. `passphrase`: of one that is a locked file.

    Raises:
        BagItError: it is not whole or not safe.
        WrongPassphraseError: the passphrase does not open it.
        OddFileError: it is a device, a pipe or a folder.
        FileAccessError, LogPermissionError: it cannot be read.
    """
    checked_file(path)
    with translate_errors(path):
        file = _known_file(path, passphrase)
    try:
        with translate_errors(path):
            archive = zipfile.ZipFile(file)
    except _BROKEN as error:
        file.close()
        raise BagItError(path, "is not a ZIP file, or is cut short") from error
    with file, archive:
        bag = BagItArchive(path, archive, _members(path, archive))
        bag.verify()
        yield bag


def _members(path: Path, archive: zipfile.ZipFile) -> dict[str, zipfile.ZipInfo]:
    """The members by their name within the bag's one folder; refuses what is not safe."""
    infos = archive.infolist()
    if len(infos) > _MOST_MEMBERS:
        raise BagItError(path, f"holds {len(infos)} files, more than {_MOST_MEMBERS}")
    members: dict[str, zipfile.ZipInfo] = {}
    roots: set[str] = set()
    for info in infos:
        root, slash, name = info.filename.partition("/")
        roots.add(root)
        shown = ascii(info.filename[:80])
        if not slash or root in ("", ".", "..") or "\\" in info.filename:
            raise BagItError(path, f"is not one folder of files ({shown})")
        if info.is_dir():
            continue
        if not _NAME.fullmatch(name):
            raise BagItError(path, f"holds a file whose name is not safe ({shown})")
        mode = info.external_attr >> 16
        if mode and not stat.S_ISREG(mode) and stat.S_IFMT(mode):
            raise BagItError(path, f"holds a link or another thing that is no file ({shown})")
        if info.flag_bits & 1 or info.compress_type not in (
            zipfile.ZIP_STORED,
            zipfile.ZIP_DEFLATED,
        ):
            raise BagItError(path, f"is locked or packed in a way not known here ({shown})")
        if info.file_size > _MOST_GROWTH * info.compress_size + _SLACK:
            raise BagItError(path, f"would unpack to far more than it is ({shown})")
        if not name.startswith("data/") and info.file_size > _MOST_TAG:
            raise BagItError(path, f"has a list of unlikely length ({shown})")
        known = members.setdefault(name, info)
        if (known.CRC, known.file_size) != (info.CRC, info.file_size):
            raise BagItError(path, f"holds a file twice ({shown})")
    if len(roots) != 1 or "bagit.txt" not in members:
        raise BagItError(path, "is a ZIP file but not a bag of voicelog")
    if "fetch.txt" in members:
        raise BagItError(path, "wants files to be fetched from elsewhere (fetch.txt)")
    total = sum(info.file_size for info in members.values())
    packed = path.stat().st_size
    if total > _MOST_GROWTH * packed + _SLACK:
        raise BagItError(path, "would unpack to far more than it is")
    return members
