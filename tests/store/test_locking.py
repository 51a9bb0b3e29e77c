"""A locked log: nothing of it in plain on the disk, and nothing lost by a kill on the way."""

from __future__ import annotations

import random
import sqlite3
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.store.log_cases import BRAMBLE
from tests.store.merging import corrected, taken_in, ticking, wav, whole
from voicelog.audio import locked_files
from voicelog.audio.files import blocks
from voicelog.audio.locked_files import LockedFile, note_folder_key, open_bytes, write_bytes
from voicelog.audio.recorder import Recorder, read_pcm
from voicelog.store import Log, locking
from voicelog.store.backup import restore, write_backup
from voicelog.store.backup_proof import note_backup, prove_newest_backup
from voicelog.store.bundle import merge_bundle, write_bundle
from voicelog.store.deletion import delete_parts
from voicelog.store.errors import DamagedLogError, LogBusyError
from voicelog.store.integrity import check_integrity
from voicelog.store.locking import lock_log, take_lock_off
from voicelog.store.log_lock import (
    KEY_FILE,
    PASSPHRASE,
    LogLockedError,
    ShortPassphraseError,
    WrongPassphraseError,
    note_log_key,
    open_key_file,
    write_key_file,
)
from voicelog.store.share.signing import own_key

WORDS = "four plain words here"
MARKER = b"a-word-to-look-for"


@pytest.fixture(autouse=True)
def _cheap_and_alone(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.setattr(locked_files, "SCRYPT_N", 1 << 4)
    monkeypatch.setenv(PASSPHRASE, WORDS)
    yield
    locked_files._keys.clear()


def filled(folder: Path, tmp_path: Path) -> tuple[str, bytes]:
    """A log with a marker in its text; the id of its recording, and bytes of its sound."""
    with Log.open(folder, now=ticking()) as log:
        log.put_dog(BRAMBLE)
        sound = wav(tmp_path / "a.wav", seconds=1.0)
        recording = taken_in(log, sound)
        corrected(log, recording, 0, MARKER.decode(), "Wren")
    return recording, sound.read_bytes()[9000:9040]


def in_plain(folder: Path, *markers: bytes) -> list[str]:
    """The files below a folder in which any of some bytes stand."""
    files = [path for path in folder.rglob("*") if path.is_file()]
    return [path.name for path in files if any(one in path.read_bytes() for one in markers)]


def test_nothing_lies_there_in_plain_and_all_comes_back(tmp_path: Path) -> None:
    folder = tmp_path / "log"
    recording, sound = filled(folder, tmp_path)
    (folder / "live").mkdir()
    wav(folder / "live" / "cut-short.wav", seed=4)
    with closing(sqlite3.connect(folder / "log-0006.sqlite3")) as old, old:
        old.execute("CREATE TABLE t AS SELECT 'a-word-to-look-for' AS words")
    assert len(in_plain(folder, MARKER, sound)) == 3
    signs = own_key(folder).public
    secret = (folder / "keys" / "signing.key").read_bytes()
    lock_log(folder, WORDS)
    note_log_key(folder, None)
    with Log.open(folder, now=ticking()) as log:
        assert in_plain(folder, secret) == []
        assert own_key(folder).public == signs
        before = log.stamped_events(recording)
        second = wav(tmp_path / "b.wav", seconds=1.0, seed=2)
        also = taken_in(log, second)
        corrected(log, also, 0, MARKER.decode(), "Wren")
        recorder = Recorder(log.live_folder / "new.wav")
        heard = np.arange(4000, dtype=np.int16)
        recorder.write(heard)
        markers = (MARKER, sound, second.read_bytes()[9000:9040], heard[100:200].tobytes())
        assert in_plain(folder, *markers, b"SQLite format", b"RIFF") == [], "while it is open"
        assert (read_pcm(recorder.path) == heard).all()
        recorder.close()
        assert (read_pcm(recorder.path) == heard).all()
        begun = log.live_folder / "killed.wav"  # by a kill before its first byte
        begun.touch()
        assert len(read_pcm(begun)) == 0
        begun.unlink()
        assert in_plain(folder, *markers) == []
        found = check_integrity(log)
        assert (found.missing, found.changed, found.loose, found.odd) == ((), (), (), ())
        kept = log.recording(also)
        assert kept is not None
        path = log.sound_of(kept)
        assert path is not None
        assert len(np.concatenate(list(blocks(path)))) == 16_000
    assert folder.stat().st_mode & 0o077 == 0
    take_lock_off(folder)
    note_log_key(folder, None)
    with Log.open(folder, now=ticking()) as log:
        assert not log.locked
        assert log.stamped_events(recording) == before
        assert check_integrity(log).missing == ()
        assert read_pcm(log.live_folder / "new.wav").size == 4000


def test_a_passphrase_opens_it_and_nothing_else_does(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "log"
    filled(folder, tmp_path)
    with pytest.raises(ShortPassphraseError):
        lock_log(folder, "too short")
    lock_log(folder, WORDS)
    for said, error in (("", LogLockedError), ("four other words", WrongPassphraseError)):
        note_log_key(folder, None)
        monkeypatch.setenv(PASSPHRASE, said)
        with pytest.raises(error, match=f"^{folder} [^\n]+\\.$"):
            Log.open(folder, now=ticking())
    write_key_file(folder / KEY_FILE, open_key_file(folder / KEY_FILE, WORDS), "four other words")
    with Log.open(folder, now=ticking()) as log:
        assert log.locked
    with pytest.raises(WrongPassphraseError):
        open_key_file(folder / KEY_FILE, WORDS)
    with (folder / "log.sqlite3").open("r+b") as file:
        file.seek(5000)
        file.write(b"x")
    with pytest.raises(DamagedLogError), Log.open(folder, now=ticking()) as log:
        log.recordings()


HOLDER = """
import sqlite3, sys
held = sqlite3.connect(sys.argv[1])
held.execute("SELECT count(*) FROM events").fetchone()
print("held", flush=True)
sys.stdin.read()
"""


def test_what_another_program_holds_is_left_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "log"
    with Log.open(folder, now=ticking()) as log:
        log.put_dog(BRAMBLE)
    command = [sys.executable, "-S", "-c", HOLDER, str(folder / "log.sqlite3")]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as holder:
        assert holder.stdout is not None
        holder.stdout.readline()
        monkeypatch.setattr(locking, "_PATIENCE_MS", 50)
        with pytest.raises(LogBusyError):
            lock_log(folder, WORDS)
        holder.communicate()
    assert list(folder.glob("key.*")) == []
    with Log.open(folder, now=ticking()) as log:
        assert [dog.name for dog in log.roster().dogs] == [BRAMBLE.name]
    lock_log(folder, WORDS)


def test_backups_and_bundles_are_locked_too_and_are_taken_in_anywhere(tmp_path: Path) -> None:
    folder = tmp_path / "log"
    recording, sound = filled(folder, tmp_path)
    lock_log(folder, WORDS)
    backup, bundle = tmp_path / "b.zip", tmp_path / "bramble.locked"
    with Log.open(folder, now=ticking()) as log:
        before = log.stamped_events(recording)
        log.live_folder.mkdir()
        growing = Recorder(log.live_folder / "x.wav")
        growing.write(np.arange(2000, dtype=np.int16))
        write_backup(log, backup, None)
        note_backup(log, backup)
        write_bundle(log, bundle, [whole(log, recording)], ["Bramble"], "words for a friend")
        proof = prove_newest_backup(log)
        assert proof is not None
        assert proof.fault is None
        restore(log, backup, folder / "settings.toml")
        part = whole(log, recording)
        growing.close()
        delete_parts(log, [part])
        assert log.recordings() == ()
    assert in_plain(tmp_path, MARKER) == []
    assert in_plain(tmp_path, sound) == ["a.wav"]
    with Log.open(tmp_path / "plain", now=ticking()) as plain:
        restore(plain, backup, tmp_path / "settings.toml")
        assert plain.stamped_events(recording) == before
        assert check_integrity(plain).missing == ()
    other = tmp_path / "other"
    other.mkdir()
    lock_log(other, WORDS)
    with Log.open(other, now=ticking()) as log:
        with pytest.raises(WrongPassphraseError, match="bramble"):
            merge_bundle(log, bundle, passphrase="words for nobody")
        merge_bundle(log, bundle, passphrase="words for a friend")
        assert len(log.events(recording)) == len(before)
        found = check_integrity(log)
        assert (found.missing, found.changed) == ((), ())
    assert in_plain(other, MARKER, sound) == []


class _Killed(BaseException):
    """Stands for a kill: nothing after it is done."""


def test_a_kill_at_any_step_loses_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = tmp_path / "log"
    recording, sound = filled(folder, tmp_path)
    with Log.open(folder, now=ticking()) as log:
        before = log.stamped_events(recording)
    replace, unlink = Path.replace, Path.unlink
    left = 0

    def stepping(do: Callable[..., Any]) -> Callable[..., Any]:
        def step(*args: Any, **options: Any) -> Any:
            nonlocal left
            left -= 1
            if left == 0:
                raise _Killed
            return do(*args, **options)

        return step

    for kill_at in range(1, 9):
        for turn in ("on", "off"):
            left = kill_at
            with monkeypatch.context() as patch:
                patch.setattr(Path, "replace", stepping(replace))
                patch.setattr(Path, "unlink", stepping(unlink))
                try:
                    if turn == "on":
                        lock_log(folder, WORDS)
                    else:
                        take_lock_off(folder)
                except _Killed:
                    pass
            note_log_key(folder, None)
            with Log.open(folder, now=ticking()) as log:
                assert log.stamped_events(recording) == before
                found = check_integrity(log)
                assert (found.missing, found.changed, found.loose) == ((), (), ())
                there = log.locked
            names = {path.name for path in folder.glob("key.*") if path.suffix != ".part"}
            assert names == ({KEY_FILE} if there else set())
            assert there == bool(not in_plain(folder, MARKER, sound))
            if turn == "on" and not there:  # killed before it had begun
                lock_log(folder, WORDS)
            if turn == "off" and there:
                take_lock_off(folder)
    assert left > 0, "there are more steps than were tried"


def test_a_locked_file_is_read_and_written_as_any_other(tmp_path: Path) -> None:
    note_folder_key(tmp_path, bytes(range(32)))
    chance = random.Random(1)
    mirror = bytearray()
    with write_bytes(tmp_path / "a") as file:
        for _ in range(60):
            at = chance.randrange(len(mirror) + 1)
            data = chance.randbytes(chance.choice([1, 10, 5000, 70_000]))
            file.seek(at)
            file.write(data)
            mirror[at : at + len(data)] = data
    with open_bytes(tmp_path / "a") as read:
        assert read.readall() == mirror
        for _ in range(60):
            at = chance.randrange(len(mirror))
            read.seek(at)
            assert read.read(70_000) == mirror[at : at + 70_000]
    raw = bytearray((tmp_path / "a").read_bytes())
    raw[len(raw) // 2] ^= 1
    (tmp_path / "b").write_bytes(raw)
    with pytest.raises(OSError, match="decrypt"), open_bytes(tmp_path / "b") as read:
        read.readall()
    with pytest.raises(OSError, match="decrypt"):
        LockedFile(tmp_path / "a", bytes(32))
