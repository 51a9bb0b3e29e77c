"""A segment comes back as it was, or is one sentence; nothing in a folder can do harm."""

from __future__ import annotations

import gzip
import hashlib
import json
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicelog.model import UsageError
from voicelog.store.share import segments
from voicelog.store.share.items import Item, make_item
from voicelog.store.share.place import SharePlace
from voicelog.store.share.segments import (
    NewerSegmentError,
    SealedSegment,
    SegmentError,
    SegmentHeader,
    pack,
    split,
    unpack,
)

HEADER = SegmentHeader(kennel="k", device="0123456789abcdef", number=1, name="Anna")
ITEMS = tuple(make_item("matter", {"n": n, "words": "é" * n}, "") for n in range(9))
SEGMENT = SealedSegment(header=HEADER, items=ITEMS)
DATA = pack(SEGMENT)


def sealed(*lines: str) -> bytes:
    text = "".join(f"{line}\n" for line in lines).encode()
    seal = json.dumps({"sha256": hashlib.sha256(text).hexdigest()})
    return gzip.compress(text + seal.encode())


HEAD = HEADER.model_dump_json()
HARM: dict[str, Callable[[], bytes]] = {
    "nothing": lambda: b"",
    "half": lambda: DATA[: len(DATA) // 2],
    "more": lambda: DATA + b"more",
    "two in one": lambda: DATA + DATA,
    "a bomb": lambda: gzip.compress(b"[" * (3 << 20)),
    "deep": lambda: sealed(HEAD, '{"kind":"x","at":"","body":' + "[" * 5000 + "]" * 5000 + "}"),
    "a long number": lambda: sealed(HEAD, '{"kind":"x","at":"","body":' + "9" * 5000 + "}"),
    "no number": lambda: sealed(HEAD, '{"kind":"x","at":"","body":NaN}'),
    "half a character": lambda: sealed(HEAD, '{"kind":"x","at":"","body":"\\ud800"}'),
    "no time": lambda: sealed(HEAD, '{"kind":"x","at":"noon","body":1}'),
    "no item": lambda: sealed(HEAD, "[]"),
    "no header": lambda: sealed("[]"),
    "a number below all": lambda: sealed(HEAD.replace('"number":1', '"number":-1')),
    "not sealed": lambda: gzip.compress(HEAD.encode() + b'\n{"sha256":"00"}\n'),
}


def test_a_segment_comes_back_as_it_was_and_erasing_keeps_what_it_is_known_by() -> None:
    assert unpack("x", DATA) == SEGMENT
    gone = tuple(
        Item(kind="gone", body=None, id=one.id) if n % 2 else one for n, one in enumerate(ITEMS)
    )
    erased = SealedSegment(header=HEADER, items=gone)
    assert unpack("x", pack(erased)).id == erased.id == SEGMENT.id
    assert [one for part in split(ITEMS, 200) for one in part] == list(ITEMS)


@pytest.mark.parametrize("name", HARM)
def test_what_does_harm_is_set_aside_in_one_sentence(
    name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(segments, "LARGEST_TEXT", 2 << 20)
    with pytest.raises(SegmentError) as told:
        unpack("000001.seg", HARM[name]())
    assert str(told.value).count("\n") == 0
    assert len(str(told.value)) < 400


@given(place=st.integers(0, len(DATA) - 1), bit=st.integers(0, 7))
def test_a_bit_that_is_not_as_it_was_is_found(place: int, bit: int) -> None:
    data = bytearray(DATA)
    data[place] ^= 1 << bit
    with suppress(SegmentError):
        assert unpack("x", bytes(data)) == SEGMENT  # a bit of the zip's own header says nothing


def test_a_later_format_is_left_for_a_later_program() -> None:
    with pytest.raises(NewerSegmentError):
        unpack("x", sealed(HEAD.replace('"format":1', '"format":2,"more":3')))


def test_a_share_is_apart_from_the_log_and_from_other_files(tmp_path: Path) -> None:
    log = tmp_path / "data" / "log"
    log.mkdir(parents=True)
    for folder in (log, log / "share", tmp_path / "data", tmp_path):
        with pytest.raises(UsageError, match="together with the log"):
            SharePlace.open(folder, log, make=True)
    (tmp_path / "link").symlink_to(log)
    with pytest.raises(UsageError, match="together with the log"):
        SharePlace.open(tmp_path / "link", log, make=True)
    other = tmp_path / "papers"
    other.mkdir()
    (other / "tax.pdf").touch()
    with pytest.raises(UsageError, match="1 other files"):
        SharePlace.open(other, log, make=True)
    with pytest.raises(UsageError, match="no share"):
        SharePlace.open(tmp_path / "none", log, make=False)
    made = SharePlace.open(tmp_path / "share", log, make=True)
    assert SharePlace.open(tmp_path / "share", log, make=False).kennel == made.kennel
    path = made.write(SEGMENT, HEADER.device)
    (file,) = made.files()
    assert (file.path, file.id, file.size) == (path, SEGMENT.id, len(path.read_bytes()))
    with pytest.raises(SegmentError, match="another kennel"):
        made.read(file)
    assert not list(made.folder.rglob("*.part"))
