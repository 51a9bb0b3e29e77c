"""Whether a file ends before the end that it announces itself.

Decoders read a cut file to its last byte and say nothing, and a lost half session must not
pass for a whole one. Two kinds of announcement are checked: sizes in the container (RIFF,
RF64, AIFF, the end mark of Ogg), here from the bytes; and a length in the header (FLAC,
MP4, Matroska, MP3 with a Xing tag), which the reader compares with what it decoded. Raw
AAC, AMR, CAF and MP3 without that tag announce nothing: a cut there cannot be told.
"""

from __future__ import annotations

import io
from typing import Literal

__all__ = ["duration_is_stated", "is_truncated", "size_is_stated"]

_UNKNOWN = (0, 0xFFFFFFFF)  # written by recorders that fill the size in later, or never
_OGG_PAGE = 27 + 255 + 255 * 255  # the largest page, bytes


def is_truncated(file: io.RawIOBase | io.BytesIO, size: int) -> bool:
    """Whether the container of `size` bytes should have been longer."""
    stated = _stated_size(file)
    if stated == "ogg":
        return not _ogg_is_closed(file, size)
    return stated is not None and stated + 8 > size


def size_is_stated(file: io.RawIOBase | io.BytesIO) -> bool:
    """Whether the container of `file` announces where it ends, so that `is_truncated` can tell."""
    return _stated_size(file) is not None


def _stated_size(file: io.RawIOBase | io.BytesIO) -> int | Literal["ogg"] | None:
    """The size that the container states, bytes; None where it states none. Ogg marks its end."""
    file.seek(0)
    head = file.read(28)
    match head[:4]:
        case b"RIFF":
            stated = int.from_bytes(head[4:8], "little")
        case b"FORM":
            stated = int.from_bytes(head[4:8], "big")
        case b"RF64":
            stated = int.from_bytes(head[20:28], "little")
        case b"OggS":
            return "ogg"
        case _:
            return None
    return None if stated in _UNKNOWN else stated


def _ogg_is_closed(file: io.RawIOBase | io.BytesIO, size: int) -> bool:
    """Whether the last page is whole and marked as the last of its stream."""
    file.seek(max(0, size - _OGG_PAGE))
    tail = file.read()
    page = tail[tail.rfind(b"OggS") :]
    if len(page) < 27 or len(page) < 27 + page[26]:
        return False
    body = sum(page[27 : 27 + page[26]])
    return bool(page[5] & 4) and len(page) >= 27 + page[26] + body


def duration_is_stated(file: io.RawIOBase | io.BytesIO, container: str) -> bool:
    """Whether a duration given for this container is its own statement, not an estimate.

    `container` is FFmpeg's name for it. The file's position is left as it was.
    """
    if container != "mp3":
        return container.split(",")[0] in ("flac", "mov", "matroska")
    position = file.seek(0, io.SEEK_CUR)
    file.seek(0)
    head = file.read(10)
    tag = 0
    if head[:3] == b"ID3":
        tag = 10
        for place, byte in enumerate(reversed(head[6:])):
            tag += (byte & 0x7F) << 7 * place
    file.seek(tag)
    first = file.read(256)
    file.seek(position)
    return b"Xing" in first or b"Info" in first
