"""One file while the log is in use, and all of it back, into an empty log or a living one."""

from __future__ import annotations

import shutil
import threading
import zipfile
from collections.abc import Iterator
from pathlib import Path

import bagit
import pytest

from tests.store.log_cases import BRAMBLE, NOON, spoken
from tests.store.merging import corrected, taken_in, ticking, wav, whole
from voicelog.model import Dog
from voicelog.store import Log, Recording
from voicelog.store.backup import restore, write_backup
from voicelog.store.bagit import BagItError, write_bagit
from voicelog.store.commit_time import commit_time
from voicelog.store.deletion import delete_parts
from voicelog.store.integrity import check_integrity
from voicelog.store.roster_versions import RosterVersion, take

DATA = Path(__file__).with_name("data")


@pytest.fixture
def log(tmp_path: Path) -> Iterator[Log]:
    with Log.open(tmp_path / "log", now=ticking()) as log:
        yield log


def state(log: Log) -> tuple[object, ...]:
    events = tuple(log.stamped_events(one.id) for one in log.recordings())
    return log.recordings(), events, log.versions(), log.roster()


def filled(log: Log, folder: Path) -> str:
    log.put_dog(Dog(name="Bramble"))
    log.put_handler("Wren")
    log.put_dog(BRAMBLE)
    recording = taken_in(log, wav(folder / "a.wav"))
    taken_in(log, wav(folder / "b.wav", seed=2))
    corrected(log, recording, 0, "level two", "Wren")
    return recording


def test_sound_of_two_recordings_is_one_file_in_a_backup(log: Log, tmp_path: Path) -> None:
    kept = log.recording(filled(log, tmp_path))
    assert kept is not None
    same = kept.model_dump(exclude={"added_at", "complete"}) | {"id": f"{kept.id}-another-day"}
    log.begin_recording(Recording.model_validate(same))
    write_backup(log, tmp_path / "b.zip", None)
    with Log.open(tmp_path / "new", now=ticking()) as new:
        done, _ = restore(new, tmp_path / "b.zip", new.folder / "settings.toml")
        assert done.recordings == 3
        assert check_integrity(new).missing == ()


def test_all_of_it_comes_back_into_an_empty_log(log: Log, tmp_path: Path) -> None:
    filled(log, tmp_path)
    settings = log.folder / "settings.toml"
    settings.write_text("presses_adult = 12\n")
    told: list[tuple[int, int]] = []
    saved = write_backup(log, tmp_path / "b.zip", settings, lambda *so_far: told.append(so_far))
    check_integrity(log, lambda *so_far: told.append(so_far))
    assert told == [(0, 2), (1, 2)] * 2
    assert (saved.recordings, saved.sounds, saved.missing, saved.changed) == (2, 2, (), ())
    with Log.open(tmp_path / "new", now=ticking()) as new:
        _, taken = restore(new, tmp_path / "b.zip", new.folder / "settings.toml")
        assert taken
        assert state(new) == state(log)
        assert check_integrity(new).missing == check_integrity(new).changed == ()
        for name in ("sound", "settings.toml"):
            for path in (log.folder / name).glob("*") if name == "sound" else [settings]:
                copy = new.folder / path.relative_to(log.folder)
                assert copy.read_bytes() == path.read_bytes()


def test_what_was_once_fitted_to_a_voice_is_kept_and_changes_nothing(
    log: Log, tmp_path: Path
) -> None:
    filled(log, tmp_path)
    before = log.roster()
    body = '{"format": 1, "handler": "Wren", "speed": 1.1, "variants": {"nine": ["N OY N"]}}'
    at = commit_time(NOON)
    stored = RosterVersion(kind="voice", name="Wren", body=body, removed=False, put_at=at)
    with log.writing() as connection:
        assert take(connection, stored)
    assert stored in log.versions()
    assert log.roster() == before
    write_backup(log, tmp_path / "b.zip", None)
    with Log.open(tmp_path / "new", now=ticking()) as new:
        restore(new, tmp_path / "b.zip", new.folder / "settings.toml")
        assert state(new) == state(log)


def test_a_backup_is_a_bag_that_others_can_check(log: Log, tmp_path: Path) -> None:
    filled(log, tmp_path)
    write_backup(log, tmp_path / "b.zip", None)
    with zipfile.ZipFile(tmp_path / "b.zip") as archive:
        archive.extractall(tmp_path / "out")
    assert bagit.Bag(str(tmp_path / "out" / "b")).validate()
    assert (tmp_path / "b.zip").stat().st_mode & 0o777 == 0o600


def test_a_log_that_went_on_keeps_what_it_has(log: Log, tmp_path: Path) -> None:
    recording = filled(log, tmp_path)
    write_backup(log, tmp_path / "b.zip", None)
    corrected(log, recording, 1, "level four", "Wren")
    taken_in(log, wav(tmp_path / "c.wav", seed=3))
    log.put_dog(Dog(name="Thorn"))
    before = state(log)
    done, _ = restore(log, tmp_path / "b.zip", log.folder / "settings.toml")
    assert (done.recordings, done.events, done.sounds) == (0, 0, 0)
    assert state(log) == before


def test_lost_sound_comes_back(log: Log, tmp_path: Path) -> None:
    filled(log, tmp_path)
    write_backup(log, tmp_path / "b.zip", None)
    before = {p.name: p.read_bytes() for p in (log.folder / "sound").iterdir()}
    shutil.rmtree(log.folder / "sound")
    assert len(check_integrity(log).missing) == 2
    restore(log, tmp_path / "b.zip", log.folder / "settings.toml")
    assert {p.name: p.read_bytes() for p in (log.folder / "sound").iterdir()} == before
    assert check_integrity(log).missing == ()


def test_what_was_deleted_since_stays_deleted(log: Log, tmp_path: Path) -> None:
    recording = filled(log, tmp_path)
    write_backup(log, tmp_path / "b.zip", None)
    delete_parts(log, [whole(log, recording)])
    before = state(log)
    done, _ = restore(log, tmp_path / "b.zip", log.folder / "settings.toml")
    assert done.deleted == 7
    assert state(log) == before


def test_a_backup_made_while_others_write_holds_whole_commits(log: Log, tmp_path: Path) -> None:
    recording = taken_in(log, wav(tmp_path / "a.wav"), utterances=0)
    stop = threading.Event()
    last = [0]

    def write() -> None:
        while not stop.is_set():
            log.append(spoken(recording, last[0]))
            last[0] += 1

    writer = threading.Thread(target=write)
    writer.start()
    try:
        sizes = []
        for number in range(4):
            before = last[0]
            write_backup(log, tmp_path / f"{number}.zip", None)
            with Log.open(tmp_path / f"new{number}", now=ticking()) as new:
                restore(new, tmp_path / f"{number}.zip", new.folder / "settings.toml")
                events = new.events(recording)
            assert len(events) % 3 == 0
            assert len(events) >= 3 * before
            sizes.append(len(events))
    finally:
        stop.set()
        writer.join()
    assert sizes[-1] > sizes[0]


def test_a_backup_of_an_older_program_comes_back(log: Log, tmp_path: Path) -> None:
    with write_bagit(tmp_path / "old.zip", NOON, {}) as bag:
        bag.add_file("log.sqlite3", DATA / "revision_0001.sqlite3")
    done, _ = restore(log, tmp_path / "old.zip", log.folder / "settings.toml")
    assert done.recordings == 2
    assert [dog.name for dog in log.roster().dogs] == ["Bramble"]


def test_a_live_session_under_way_is_in_the_backup(log: Log, tmp_path: Path) -> None:
    log.begin_recording(Recording(id="live-1", file_name="live"))
    log.append(spoken("live-1", 1))
    (log.folder / "live").mkdir()
    grown = (log.folder / "live" / "live-1.wav", log.folder / "live" / "of-nobody.wav")
    for path in grown:
        path.write_bytes(b"RIFF...")
    saved = write_backup(log, tmp_path / "b.zip", None)
    assert saved.missing == ()
    with Log.open(tmp_path / "new", now=ticking()) as new:
        restore(new, tmp_path / "b.zip", new.folder / "settings.toml")
        assert [one.complete for one in new.recordings()] == [False]
        assert [path.name for path in (new.folder / "live").iterdir()] == ["live-1.wav"]


def test_missing_and_changed_sound_is_named(log: Log, tmp_path: Path) -> None:
    filled(log, tmp_path)
    first, second = sorted((log.folder / "sound").iterdir())
    first.unlink()
    second.write_bytes(b"swapped")
    found = check_integrity(log)
    assert len(found.missing) == len(found.changed) == 1
    saved = write_backup(log, tmp_path / "b.zip", None)
    assert (saved.missing, saved.changed) == (found.missing, found.changed)


def test_a_backup_that_is_none_leaves_the_log_as_it_is(log: Log, tmp_path: Path) -> None:
    filled(log, tmp_path)
    before = state(log)
    bad = tmp_path / "bad.sqlite3"
    bad.write_bytes(b"no database" * 1000)
    cases = {"is a bag, but not a backup": None, "holds a database that cannot be opened": bad}
    for fault, database in cases.items():
        with write_bagit(tmp_path / "x.zip", NOON, {}) as bag:
            if database is not None:
                bag.add_file("log.sqlite3", database)
        with pytest.raises(BagItError, match=fault):
            restore(log, tmp_path / "x.zip", log.folder / "settings.toml")
        assert state(log) == before
