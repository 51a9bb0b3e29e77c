"""What the owner deletes is gone from every byte of the log's folder; the rest stays."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from tests.store.log_cases import recording as half_added
from tests.store.log_cases import spoken
from tests.store.merging import corrected, part_of, taken_in, ticking, wav, whole
from voicelog.model import Dog
from voicelog.store import CacheRow, DeletedError, Log, UnknownNameError
from voicelog.store.deletion import (
    IncompleteRecordingError,
    delete_dog,
    delete_parts,
    delete_sound,
)

SECRETS = ("zephyrine", "quixotic note", "borogove")


@pytest.fixture
def log(tmp_path: Path) -> Iterator[Log]:
    with Log.open(tmp_path / "log", now=ticking()) as log:
        yield log


def holding(folder: Path, *words: str) -> list[str]:
    """Files with one of these words in their bytes, in any letter case."""
    found = []
    for path in sorted(folder.rglob("*")):
        if path.is_file():
            data = path.read_bytes().lower()
            found += [f"{path.name}: {word}" for word in words if word.encode() in data]
    return found


def two_dogs(log: Log, folder: Path) -> tuple[str, str]:
    """A recording of Zephyrine and one of Bramble, whose rosters name both."""
    log.put_dog(Dog(name="Zephyrine", identification="borogove"))
    log.put_dog(Dog(name="Bramble"))
    hers = taken_in(log, wav(folder / "zephyrine.wav"), dog="Zephyrine")
    his = taken_in(log, wav(folder / "b.wav", seed=2), dog="Bramble")
    for number in range(30):
        log.append(spoken(hers, 10 + number, "quixotic note"))
    log.derived_put(hers, [CacheRow(key="s", recording=hers, stamp="1", body="quixotic note")])
    with log.writing() as connection:
        connection.exec_driver_sql(
            "UPDATE recordings SET roster = replace(roster, 'Other', 'Zephyrine'),"
            " settings = replace(settings, 'Other', 'Zephyrine')"
        )
    return hers, his


def test_a_deleted_dog_is_in_no_byte_of_the_folder(log: Log, tmp_path: Path) -> None:
    hers, his = two_dogs(log, tmp_path)
    assert holding(log.folder, *SECRETS)
    before = log.stamped_events(his)
    sound = (log.folder / "sound" / f"{hers}.wav").read_bytes()
    gone = delete_dog(log, "zephyrine", [whole(log, hers)])
    assert gone.swept
    assert (gone.recordings, gone.sounds) == (1, 1)
    assert holding(log.folder, *SECRETS) == []
    assert not any(sound[2000:2064] in p.read_bytes() for p in log.folder.rglob("*.*"))
    assert log.stamped_events(his) == before
    assert [dog.name for dog in log.roster().dogs] == ["Bramble"]
    (kept,) = log.recordings()
    assert log.sound_of(kept) is not None


def test_a_deleted_part_is_in_no_byte_and_the_rest_is(log: Log, tmp_path: Path) -> None:
    recording = taken_in(log, wav(tmp_path / "a.wav"), utterances=0)
    log.append(spoken(recording, 0, "quixotic note"))
    log.append(spoken(recording, 1, "level three"))
    corrected(log, recording, 0, "borogove", "Wren")
    assert holding(log.folder, "quixotic note", "borogove")
    part = part_of(recording, log, 0)
    ids = {e.id for e in log.events(recording) if "-1" not in e.id}
    gone = delete_parts(log, [part.model_copy(update={"events": frozenset(ids)})])
    assert (gone.events, gone.sounds, gone.recordings) == (4, 1, 0)
    assert holding(log.folder, "quixotic note", "borogove") == []
    assert [event.id for event in log.events(recording)] == [e.id for e in spoken(recording, 1)]
    assert holding(log.folder, "level three")


def test_a_typed_recording_loses_only_the_lines_of_the_part(log: Log, tmp_path: Path) -> None:
    typed = tmp_path / "a.tsv"
    typed.write_text("# by hand\n0\t1\tquixotic note\n2\t3\tlevel three\n")
    recording = taken_in(log, typed)
    delete_parts(log, [part_of(recording, log, 0)])
    (left,) = (log.folder / "sound").iterdir()
    assert left.read_text() == "\n\n2\t3\tlevel three\n"


def test_sound_goes_and_entries_stay(log: Log, tmp_path: Path) -> None:
    recording = taken_in(log, wav(tmp_path / "a.wav"))
    before = log.stamped_events(recording)
    kept = log.recording(recording)
    assert kept is not None
    assert delete_sound(log, [kept]).sounds == 1
    assert list((log.folder / "sound").iterdir()) == []
    assert log.stamped_events(recording) == before
    after = log.recording(recording)
    assert after is not None
    assert after.sound is None


def test_a_deleted_recording_added_again_is_refused(log: Log, tmp_path: Path) -> None:
    recording = taken_in(log, wav(tmp_path / "a.wav"))
    delete_parts(log, [whole(log, recording)])
    with pytest.raises(DeletedError) as caught:
        taken_in(log, tmp_path / "a.wav")
    assert str(caught.value) == (
        f"The recording {recording[:12]} was deleted from this log on 1 Mar 2026, and what was "
        "deleted stays deleted: to keep it after all, add it to another log (--data-dir)."
    )
    assert list((log.folder / "sound").iterdir()) == []


def test_while_another_reads_it_says_so_and_the_next_opening_sweeps(
    log: Log, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    hers, _ = two_dogs(log, tmp_path)
    log.close()
    monkeypatch.setattr("voicelog.store.database.BUSY_S", 0.05)
    with (
        Log.open(log.folder, now=ticking()) as mine,
        closing(sqlite3.connect(log.folder / "log.sqlite3", isolation_level=None)) as other,
    ):
        other.execute("BEGIN")
        other.execute("SELECT count(*) FROM events").fetchone()
        assert not delete_dog(mine, "Zephyrine", [whole(mine, hers)]).swept
    with Log.open(log.folder, now=ticking()):
        pass
    assert holding(log.folder, *SECRETS) == []


def test_nobody_but_the_owner_deletes(log: Log, tmp_path: Path) -> None:
    """The triggers hold whoever has no tombstone, and nobody lifts one."""
    recording = taken_in(log, wav(tmp_path / "a.wav"))
    delete_parts(log, [part_of(recording, log, 0)])
    gone = part_of(recording, log, 0)
    assert gone.events == frozenset()
    with closing(sqlite3.connect(log.folder / "log.sqlite3")) as connection:
        for statement in (
            "DELETE FROM events",
            "DELETE FROM tombstones",
            "INSERT INTO events (id, recording, body, committed_at) SELECT id, "
            f"'{recording}', '{{}}', '' FROM tombstones WHERE kind = 'event' LIMIT 1",
        ):
            with pytest.raises(sqlite3.IntegrityError, match=r"only grows|stays deleted"):
                connection.execute(statement)


def test_a_dog_that_is_not_there_and_a_half_added_recording_are_said(
    log: Log, tmp_path: Path
) -> None:
    log.put_dog(Dog(name="Bramble"))
    with pytest.raises(UnknownNameError):
        delete_dog(log, "Thorn", [])
    log.begin_recording(half_added())
    with pytest.raises(IncompleteRecordingError) as caught:
        delete_dog(log, "Bramble", [])
    assert str(caught.value) == (
        "morning.wav is only half added, so it cannot be said what of it belongs to whom: "
        "complete it with 'voicelog add morning.wav', wait until that is done, or delete it for "
        "good with 'voicelog delete half morning.wav'."
    )
