"""Where the files of a share lie, and how one is written so that nobody ever sees half of it.

A device writes into its own folder alone. What a file is called is only a hint that saves reading
it: its contents decide, so that copies that an engine made of a conflict, or under another name,
do no harm. A file that is not there any more takes nothing away.
"""

from __future__ import annotations

import json
import os
import re
import secrets
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from voicelog.model import FrozenModel, UsageError
from voicelog.model.input_limits import OddFileError, checked_file
from voicelog.store.database import sync_folder
from voicelog.store.errors import translate_errors
from voicelog.store.records import SHA256
from voicelog.store.share.segments import (
    LARGEST_FILE,
    SealedSegment,
    SegmentError,
    UnsignedSegmentError,
    author_message,
    pack,
    unpack,
    writer_message,
)
from voicelog.store.share.signing import (
    DeviceKey,
    KeySeal,
    PublicKey,
    holds,
    is_signed_kennel,
    kennel_of,
    own_key,
)

__all__ = ["SegmentFile", "SharePlace", "segment_name"]

KENNEL_FILE = "kennel.json"
_NAME = re.compile(rf"(\d{{6,9}})-({SHA256})-(\d{{1,9}})\.seg")
_IN_ONE_FOLDER = 1000


class _Kennel(FrozenModel):
    """What `kennel.json` says."""

    voicelog_share: int
    kennel: str
    first: PublicKey | None = None
    """The key of the device that began it, where it was signed from the start."""
    signed_by: PublicKey | None = None
    """The key of the device that signed it later. A program that does not know of that refuses a
    share that says it, and does not go on unsigned."""

    @property
    def key(self) -> str | None:
        """The key of the first device, None where the share is not signed."""
        return self.first if is_signed_kennel(self.kennel) else self.signed_by


@dataclass(frozen=True, slots=True)
class SegmentFile:
    """A file that calls itself a segment. `id` and `size` (bytes) are what its name says, None and
    -1 where it says nothing."""

    path: Path
    id: str | None
    size: int


def segment_name(number: int, identity: str, size: int) -> str:
    """What a segment's file of so many bytes is called."""
    return f"{number:06d}-{identity}-{size}.seg"


class SharePlace:
    """The folder of a share. `kennel` is its name, a random one, by which a folder of another
    kennel is known. Of a signed one, `first` is the key of the device that began or signed it, and
    `key` this device's own; else both are None."""

    def __init__(
        self, folder: Path, kennel: str, first: str | None = None, key: DeviceKey | None = None
    ) -> None:
        self.folder, self.kennel, self.first, self.key = folder, kennel, first, key

    @classmethod
    def open(
        cls, folder: Path, log_folder: Path, *, make: bool, signed: bool = False
    ) -> SharePlace:
        """The share in a folder; where there is none and `make` says so, a new one, which is
        `signed` or not.

        Raises:
            UsageError: the folder holds the log or lies in it, is missing, or is no share.
            LogError: as the disk refuses.
        """
        folder = folder.expanduser().absolute()
        here, log = folder.resolve(), log_folder.resolve()
        if here == log or here in log.parents or log in here.parents:
            raise UsageError(
                f"Found {folder} together with the log in {log_folder}, wanted a folder apart from "
                "it, since a log is never shared as it is; name another folder."
            )
        file = folder / KENNEL_FILE
        with translate_errors(folder):
            if make:
                folder.mkdir(parents=True, exist_ok=True)
            if file.exists():
                there = _kennel(file)
                key = own_key(log_folder) if there.key else None
                return cls(folder, there.kennel, there.key, key)
            if not make:
                raise UsageError(
                    f"Found no share in {folder}, wanted the folder that was shared; put it back "
                    "or wait until it is in step."
                )
            strange = [one.name for one in folder.iterdir() if not one.name.startswith(".")]
            if strange:
                raise UsageError(
                    f"Found {len(strange)} other files in {folder}, wanted an empty folder or one "
                    "that another device shares; name another, or wait until it is in step."
                )
            key = own_key(log_folder) if signed else None
            kennel = secrets.token_hex(16) if key is None else kennel_of(key.public)
            told: dict[str, object] = {"voicelog_share": 1, "kennel": kennel}
            if key is not None:
                told["first"] = key.public
            _write(file, (json.dumps(told) + "\n").encode())
        return cls(folder, kennel, key.public if key else None, key)

    def sign(self, first: str, key: DeviceKey) -> SharePlace:
        """The same share, signed from now on: its folder says that the key `first` is that of its
        first device; `key` is this device's own.

        Raises:
            LogError: as the disk refuses.
        """
        told = {"voicelog_share": 1, "kennel": self.kennel, "signed_by": first}
        file = self.folder / KENNEL_FILE
        with translate_errors(file):
            _write(file, (json.dumps(told) + "\n").encode())
        return SharePlace(self.folder, self.kennel, first, key)

    def files(self, under: str = ".") -> Iterator[SegmentFile]:
        """Every file that may be a segment, by name, in the folder or one `under` it; nothing is
        read or asked of the disk for it. Folders that are links are not followed.

        Raises:
            LogError: as the disk refuses.
        """
        with translate_errors(self.folder):
            if self._link_to(self.folder / under) is not None:
                return
            for folder, folders, names in os.walk(self.folder / under):
                folders[:] = sorted(name for name in folders if not name.startswith("."))
                for name in sorted(names):
                    if not name.endswith(".seg") or name.startswith("."):
                        continue
                    known = _NAME.fullmatch(name)
                    path = Path(folder) / name
                    if known is None:
                        yield SegmentFile(path, None, -1)
                    else:
                        yield SegmentFile(path, known[2], int(known[3]))

    def read(self, file: SegmentFile) -> SealedSegment:
        """The segment in a file.

        Raises:
            SegmentError: it is not whole, not as it was sealed, of another kennel, or does harm.
        """
        return self._checked(file.path.name, _data(file))

    def _checked(self, name: str, data: bytes) -> SealedSegment:
        """The segment that the bytes of a file called `name` are; errors as of `read`."""
        segment = unpack(name, data)
        if segment.header.kennel != self.kennel:
            raise SegmentError(name, "it is of another kennel")
        if self.first is not None:
            seals, whole = segment.seals, segment.id
            if seals is None:
                raise UnsignedSegmentError(
                    name,
                    f"it is not signed (it says that it is of {_said(segment.header.name)})",
                    "run 'voicelog share sign' there if that is so, or find out who wrote it",
                )
            if not (
                holds(seals.author, author_message(whole))
                and holds(seals.writer, writer_message(whole, seals.text))
            ):
                raise UnsignedSegmentError(
                    name, "it is not as it was signed", "run 'voicelog share repair' on any device"
                )
        return segment

    def write(self, segment: SealedSegment, device: str, author: KeySeal | None = None) -> Path:
        """Write a segment into a device's folder, whole or not at all; on disk when this returns.
        `author` is the signature of its author, where another device is.

        Raises:
            UsageError: a folder on the way is a link.
            LogError: as the disk refuses.
        """
        data = pack(segment, self.key, author)
        number = segment.header.number
        folder = self.folder / f"d-{device}" / f"{number // _IN_ONE_FOLDER:03d}"
        if segment.header.device != device:
            folder = self.folder / f"d-{device}" / "relay"
        path = folder / segment_name(number, segment.id, len(data))
        with translate_errors(path):
            self._make(folder)
            _write(path, data)
        return path

    def take_files(self, other: SharePlace) -> int:
        """Copy the segments of another copy of this share that are not here; how many those were.
        A file that is none of them stays there, whatever it is called: it may be a link to a file
        that nobody wants to share, and so may a folder.

        Raises:
            UsageError: a folder that one is to be copied into is a link.
            LogError: as the disk refuses.
        """
        here = {file.path.relative_to(self.folder) for file in self.files()}
        count = 0
        for file in other.files():
            name = file.path.relative_to(other.folder)
            if name in here or file.id is None:
                continue
            try:
                data = _data(file)
                other._checked(file.path.name, data)
            except SegmentError:
                continue
            with translate_errors(self.folder):
                self._make((self.folder / name).parent)
                _write(self.folder / name, data)
            count += 1
        return count

    def _link_to(self, folder: Path) -> Path | None:
        """The first folder on the way from the share's own to one within it that is a link and
        leads elsewhere; None where there is none."""
        way = [folder, *folder.parents]
        within = way[: way.index(self.folder)] if self.folder in way else []
        return next((one for one in reversed(within) if one.is_symlink()), None)

    def _make(self, folder: Path) -> None:
        """Make a folder within the share's own, where nothing may lead out of it."""
        link = self._link_to(folder)
        if link is not None:
            raise UsageError(
                f"Found a link in place of the folder {link}, wanted a folder, since what is "
                "written there would lie elsewhere; take the link away."
            )
        folder.mkdir(parents=True, exist_ok=True)

    def own_files(self, device: str) -> Iterator[SegmentFile]:
        """The files in a device's own folder, without those that it hands on."""
        for file in self.files(f"d-{device}"):
            if file.path.parent.name != "relay":
                yield file


def _data(file: SegmentFile) -> bytes:
    """The bytes of a file, one too many where it is too large.

    Raises:
        SegmentError: it cannot be read, or its end has not come.
    """
    try:
        checked_file(file.path)
        with file.path.open("rb") as handle:
            data = handle.read(LARGEST_FILE + 1)
    except (OSError, OddFileError) as error:
        raise SegmentError(file.path.name, "it cannot be read") from error
    if len(data) < file.size:
        raise SegmentError(file.path.name, "its end has not come")
    return data


def _kennel(file: Path) -> _Kennel:
    try:
        checked_file(file)
        with file.open("rb") as handle:
            found = _Kennel.model_validate_json(handle.read(10_000))
        if is_signed_kennel(found.kennel) and kennel_of(found.first or "") != found.kennel:
            raise ValueError("the first device's key is not that of the share's name")
        return found
    except (OSError, OddFileError, ValueError) as error:
        raise UsageError(
            f"Found {file} that cannot be read, wanted that of a share of this version; wait until "
            "the folder is in step, or look for a newer voicelog."
        ) from error


def _said(name: str) -> str:
    """What a file that nobody signed calls its device."""
    return f"'{name}'" if name else "a device without a name"


def _write(path: Path, data: bytes) -> None:
    """Write a file under another name, put it on disk, and give it its name."""
    part = path.with_name(f".{path.name}.{secrets.token_hex(4)}.part")
    try:
        with part.open("xb") as handle:
            handle.write(data)
            handle.flush()
            os.fsync(handle.fileno())
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)
    sync_folder(path.parent)
