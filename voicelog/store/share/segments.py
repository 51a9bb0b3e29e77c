"""A segment: some items as one file, sealed when it is written and never added to.

Zipped lines (RFC 1952): a header, an item on each line, and a checksum of all before it. A segment
is known by the hash of its header and of its items' ids, so that the text of an item can be erased
and all that was built on the segment still holds.

A segment comes from who knows where: size, growth, lines and depth have limits, and whatever is
wrong with it is one sentence.
"""

from __future__ import annotations

import gzip
import hashlib
import json
import zlib
from collections.abc import Iterator, Sequence
from typing import Annotated

from pydantic import Field, ValidationError

from voicelog.model import FrozenModel, VoicelogError
from voicelog.store.records import SHA256
from voicelog.store.set_aside import reason
from voicelog.store.share.items import Item, read_item
from voicelog.store.share.signing import DeviceKey, KeySeal, SegmentSeals

__all__ = [
    "LARGEST_FILE",
    "LARGEST_TEXT",
    "SEGMENT_FORMAT",
    "NewerSegmentError",
    "SealedSegment",
    "SegmentError",
    "SegmentHeader",
    "UnsignedSegmentError",
    "author_message",
    "pack",
    "split",
    "unpack",
    "writer_message",
]

SEGMENT_FORMAT = 1
LARGEST_FILE = 16 << 20
"""Bytes of a segment's file, at most."""
LARGEST_TEXT = 64 << 20
"""Bytes of its text, at most."""
_LONGEST_LINE = 16 << 20
_DEEPEST = 60
"""Brackets within brackets."""
_CHUNK = 1 << 20

_Hash = Annotated[str, Field(pattern=f"^{SHA256}$")]


class SegmentError(VoicelogError):
    """A segment that cannot be read; `why` is the reason, as the part of a sentence."""

    def __init__(self, name: str, why: str) -> None:
        super().__init__(
            f"{name} is set aside ({why}): wait until the folder is in step, or ask the "
            "device that wrote it to run 'voicelog share repair'."
        )
        self.name, self.why = name, why


class NewerSegmentError(SegmentError):
    """A segment of a later format."""

    def __init__(self, name: str) -> None:
        super().__init__(name, "a newer voicelog wrote it")
        self.args = (f"{name} is set aside, since a newer voicelog wrote it: update this one.",)


class UnsignedSegmentError(SegmentError):
    """A segment of a signed share that nobody who may has signed; `why` as in its base, `do` what
    to try."""

    def __init__(self, name: str, why: str, do: str) -> None:
        super().__init__(name, why)
        self.args = (f"{name} is set aside, since {why}: {do}.",)


class SegmentHeader(FrozenModel):
    """Who wrote a segment, as which, and which segments its author had read."""

    format: Annotated[int, Field(ge=1)] = SEGMENT_FORMAT
    kennel: Annotated[str, Field(min_length=1, max_length=64)]
    device: Annotated[str, Field(pattern="^[0-9a-f]{16}$")]
    number: Annotated[int, Field(ge=1, le=999_999_999)]
    seen: Annotated[tuple[_Hash, ...], Field(max_length=10_000)] = ()
    name: Annotated[str, Field(max_length=80)] = ""
    """What people call the device."""
    program: Annotated[str, Field(max_length=40)] = ""
    sealed_at: Annotated[str, Field(max_length=60)] = ""


class SealedSegment(FrozenModel):
    """A segment as it was read. `seals` say who signed it, None where nobody did."""

    header: SegmentHeader
    items: tuple[Item, ...]
    seals: SegmentSeals | None = None

    @property
    def id(self) -> str:
        """By what it is known: sha256, lower-case hexadecimal."""
        lines = [self.header.model_dump_json(), *(item.id for item in self.items)]
        return hashlib.sha256("\n".join(lines).encode()).hexdigest()


def author_message(segment: str) -> str:
    """What the author of the segment with that id signs."""
    return f"voicelog segment {segment}"


def writer_message(segment: str, text: str) -> str:
    """What the writer of a file signs: the segment's id, and the hash of the file's `text`, which
    has what the id does not cover: when things were committed, and which were erased."""
    return f"voicelog file {segment} {text}"


def pack(
    segment: SealedSegment, writer: DeviceKey | None = None, author: KeySeal | None = None
) -> bytes:
    """A segment as the bytes of a file; the same segment gives the same bytes.

    Args:
        segment: the segment.
        writer: the key that signs the file; None for a share that is not signed.
        author: the author's signature, where that is another device.
    """
    lines = [segment.header.model_dump_json(), *(item.line() for item in segment.items)]
    text = "".join(f"{line}\n" for line in lines).encode()
    told: dict[str, object] = {"sha256": hashlib.sha256(text).hexdigest()}
    if writer is not None:
        author = author or writer.seal(author_message(segment.id))
        told["author"] = author.model_dump()
        told["writer"] = writer.seal(writer_message(segment.id, str(told["sha256"]))).model_dump()
    seal = json.dumps(told)
    return gzip.compress(text + seal.encode() + b"\n", mtime=0)


def unpack(name: str, data: bytes) -> SealedSegment:
    """A segment from the bytes of a file called `name`.

    Raises:
        NewerSegmentError: a later program wrote it.
        SegmentError: it is not whole, not as it was sealed, or does harm.
    """
    if len(data) > LARGEST_FILE:
        raise SegmentError(name, "it is too large")
    text = b"".join(_unzipped(name, data))
    body, _, seal = text.rstrip(b"\n").rpartition(b"\n")
    body += b"\n"
    lines = body.split(b"\n")[:-1]
    if any(len(line) > _LONGEST_LINE or _depth(line) > _DEEPEST for line in lines):
        raise SegmentError(name, "a line of it is too long or too deep")
    try:
        told = json.loads(seal)
        sealed = told["sha256"]
        first = json.loads(lines[0])
        if isinstance(first, dict) and first.get("format", 0) != SEGMENT_FORMAT:
            raise NewerSegmentError(name)
        header = SegmentHeader.model_validate_json(lines[0])
        if sealed != hashlib.sha256(body).hexdigest():
            raise SegmentError(name, "it is not as it was sealed")
        signed = {"author": told.get("author"), "writer": told.get("writer"), "text": sealed}
        seals = SegmentSeals.model_validate(signed) if signed["author"] is not None else None
        return SealedSegment(header=header, items=tuple(map(read_item, lines[1:])), seals=seals)
    except ValidationError as error:
        raise SegmentError(name, reason(error)) from error
    except (ValueError, TypeError, KeyError, IndexError, AttributeError, RecursionError) as error:
        raise SegmentError(name, "it is not a segment that can be read") from error


def split(items: Sequence[Item], most: int) -> Iterator[tuple[Item, ...]]:
    """Items in parts of at most `most` bytes of text each, an item at least."""
    part: list[Item] = []
    size = 0
    for item in items:
        length = len(item.line().encode())
        if part and size + length > most:
            yield tuple(part)
            part, size = [], 0
        part.append(item)
        size += length
    if part:
        yield tuple(part)


def _unzipped(name: str, data: bytes) -> Iterator[bytes]:
    unzip = zlib.decompressobj(wbits=31)  # a gzip member, nothing else
    size = 0
    try:
        while not unzip.eof:
            chunk = unzip.decompress(data, _CHUNK)
            size += len(chunk)
            if size > LARGEST_TEXT:
                raise SegmentError(name, "it unpacks to too much")
            data = unzip.unconsumed_tail
            if not chunk and not data and not unzip.eof:
                raise SegmentError(name, "its end has not come")
            yield chunk
    except zlib.error as error:
        raise SegmentError(name, "it is not as it was sealed") from error
    if unzip.unused_data or data:
        raise SegmentError(name, "something follows its end")


def _depth(line: bytes) -> int:
    """The most brackets within brackets of a line, without those in strings."""
    if line.count(b"[") + line.count(b"{") <= _DEEPEST:
        return 0
    depth = deepest = 0
    inside = escaped = False
    for sign in line:
        if inside:
            if escaped:
                escaped = False
            elif sign == 0x5C:
                escaped = True
            elif sign == 0x22:
                inside = False
        elif sign == 0x22:
            inside = True
        elif sign in b"[{":
            depth += 1
            deepest = max(deepest, depth)
        elif sign in b"]}":
            depth -= 1
    return deepest
