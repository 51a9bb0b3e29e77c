"""Sound is kept whole, once, under its hash, or not at all."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.store.log_cases import clock, sha
from voicelog.store import DiskFullError, FileAccessError, Log, SoundMismatchError, sound_files

TEXT = "bytes that stand for sound" * 100_000


@pytest.fixture
def log(tmp_path: Path) -> Iterator[Log]:
    with Log.open(tmp_path / "log", now=clock) as log:
        yield log


@pytest.fixture
def take(tmp_path: Path) -> Path:
    path = tmp_path / "Take 1.WAV"
    path.write_text(TEXT)
    return path


def kept(log: Log) -> list[str]:
    return sorted(path.name for path in (log.folder / "sound").iterdir())


def test_a_sound_is_copied_under_its_hash_and_the_original_stays(log: Log, take: Path) -> None:
    path = log.store_sound(take, sha(TEXT))
    assert path == log.folder / "sound" / f"{sha(TEXT)}.wav"
    assert path.read_text() == take.read_text() == TEXT


def test_the_same_sound_twice_is_one_file(log: Log, take: Path) -> None:
    first = log.store_sound(take, sha(TEXT))
    again = take.rename(take.with_name("copy.flac"))
    assert log.store_sound(again, sha(TEXT)) == first
    assert log.store_sound(first, sha(TEXT)) == first
    assert kept(log) == [first.name]


def test_a_kept_sound_that_rotted_is_replaced(log: Log, take: Path) -> None:
    path = log.store_sound(take, sha(TEXT))
    path.write_bytes(b"rot")
    assert log.store_sound(take, sha(TEXT)) == path
    assert path.read_text() == TEXT
    assert kept(log) == [path.name]


def test_a_sound_with_another_hash_is_not_kept(log: Log, take: Path) -> None:
    with pytest.raises(SoundMismatchError) as caught:
        log.store_sound(take, sha("other"))
    assert str(caught.value) == (
        f"{take} has the checksum {sha(TEXT)[:12]}, not {sha('other')[:12]} as when it was first "
        "read: wait until nothing writes to it, and add it again."
    )
    assert kept(log) == []


def test_a_sound_that_cannot_be_read_is_not_kept(log: Log, tmp_path: Path) -> None:
    missing = tmp_path / "gone.wav"
    with pytest.raises(FileAccessError) as caught:
        log.store_sound(missing, sha(TEXT))
    assert str(caught.value) == (
        f"{missing} could not be used (No such file or directory): "
        "check the file and its disk, and try again."
    )
    assert kept(log) == []


def test_a_full_disk_leaves_no_half_copy(
    log: Log, take: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(_handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(DiskFullError) as caught:
        log.store_sound(take, sha(TEXT))
    assert str(caught.value) == (
        f"The disk that holds {log.folder / 'sound'} is full, so this step was not kept: "
        "free some space and try again."
    )
    assert kept(log) == []


def test_a_name_that_is_no_hash_is_refused(log: Log, take: Path) -> None:
    for name in ("../../etc/passwd", "*", sha(TEXT).upper(), sha(TEXT) + "\n"):
        with pytest.raises(ValueError, match="not a sha256"):
            log.store_sound(take, name)


def test_copies_of_a_killed_program_are_cleared_but_not_those_under_way(
    log: Log, take: Path
) -> None:
    folder = log.folder / "sound"
    folder.mkdir()
    dead, alive = folder / f"{sha('a')}.x.part", folder / f"{sha('b')}.y.part"
    for path in (dead, alive):
        path.touch()
    old = dead.stat().st_mtime - 2 * sound_files.ABANDONED_S
    os.utime(dead, (old, old))
    log.store_sound(take, sha(TEXT))
    assert kept(log) == sorted([alive.name, f"{sha(TEXT)}.wav"])
