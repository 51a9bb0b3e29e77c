"""Containers that announce their end, and those that only estimate their length."""

from __future__ import annotations

import io
from pathlib import Path

import pytest

from voicelog.audio.truncation import duration_is_stated, is_truncated


def _file(path: Path, data: bytes) -> io.FileIO:
    path.write_bytes(data)
    return io.FileIO(path)


def _page(flags: int, body: int = 10) -> bytes:
    return b"OggS\0" + bytes([flags]) + bytes(20) + bytes([1, body]) + bytes(body)


@pytest.mark.parametrize(
    ("data", "early"),
    [
        (b"RIFF" + (92).to_bytes(4, "little") + bytes(92), False),
        (b"RIFF" + (93).to_bytes(4, "little") + bytes(92), True),
        (b"RIFF" + (0).to_bytes(4, "little") + bytes(92), False),
        (b"RIFF" + (0xFFFFFFFF).to_bytes(4, "little") + bytes(92), False),
        (b"FORM" + (92).to_bytes(4, "big") + bytes(92), False),
        (b"FORM" + (900).to_bytes(4, "big") + bytes(92), True),
        (b"RF64" + b"\xff" * 4 + bytes(12) + (92).to_bytes(8, "little") + bytes(72), False),
        (b"RF64" + b"\xff" * 4 + bytes(12) + (2**33).to_bytes(8, "little") + bytes(72), True),
        (_page(2) + _page(4), False),
        (_page(2) + _page(0), True),
        ((_page(2) + _page(4))[:-1], True),
        ((_page(2) + _page(4))[:-20], True),
        (_page(2) + _page(0) * 9000 + _page(4), False),
        (b"fLaC" + bytes(96), False),
        (b"RI", False),
    ],
)
def test_a_container_tells_that_it_was_cut(tmp_path: Path, data: bytes, early: bool) -> None:
    with _file(tmp_path / "cut", data) as file:
        assert is_truncated(file, len(data)) is early


@pytest.mark.parametrize(
    ("container", "data", "stated"),
    [
        ("flac", b"", True),
        ("mov,mp4,m4a,3gp,3g2,mj2", b"", True),
        ("aac", b"", False),
        ("wav", b"", False),
        ("mp3", b"\xff\xfb" + bytes(34) + b"Xing", True),
        ("mp3", b"\xff\xfb" + bytes(34) + bytes(9), False),
        ("mp3", b"ID3\4\0\0\0\0\2\1" + bytes(257) + bytes(36) + b"Info", True),
        ("mp3", b"ID3\4\0\0\0\0\2\1" + b"Info" + bytes(600), False),
    ],
)
def test_only_a_stated_length_is_believed(
    tmp_path: Path, container: str, data: bytes, stated: bool
) -> None:
    with _file(tmp_path / "sound", data + bytes(300)) as file:
        file.seek(7)
        assert duration_is_stated(file, container) is stated
        assert file.tell() == 7
