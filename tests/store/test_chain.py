"""The log proves itself: whatever is done to the database by another hand is found."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.store.log_cases import BRAMBLE, one_of_each, recording, sha, spoken
from tests.store.merging import corrected, part_of, taken_in, ticking, wav, whole
from voicelog.model import Dog, MatterEvent, Roster
from voicelog.store import Log
from voicelog.store.bundle import merge_bundle, write_bundle
from voicelog.store.chain import CHAIN_FILE, FaultKind, chain_end
from voicelog.store.deletion import delete_dog, delete_parts
from voicelog.store.integrity import IntegrityReport, check_integrity

MORNING = recording(sound=None)


def filled(folder: Path) -> Path:
    with Log.open(folder, now=ticking()) as log:
        log.put_dog(Dog(name="Bramble"))
        log.begin_recording(MORNING)
        log.append(one_of_each(MORNING.id))
        log.append(spoken(MORNING.id, 2))
        log.finish_recording(MORNING.id)
        log.put_dog(BRAMBLE)
        why = {"who": "Wren", "reason": "fit checked"}
        log.append_matters([MatterEvent(id="m", do="close", kind="stop", entries=("u",), **why)])
    return folder / "log.sqlite3"


def checked(folder: Path) -> IntegrityReport:
    with Log.open(folder, now=ticking()) as log:
        return check_integrity(log)


def found(folder: Path) -> set[tuple[FaultKind, str]]:
    return {(one.kind, one.table) for one in checked(folder).faults}


def by_hand(database: Path, *statements: str, keep_triggers: bool = True) -> None:
    """Another program's work: it takes the triggers away and puts them back."""
    with closing(sqlite3.connect(database)) as other, other:
        query = "SELECT name, sql FROM sqlite_master WHERE type = 'trigger'"
        triggers = other.execute(query).fetchall()
        for name, _ in triggers:
            other.execute(f"DROP TRIGGER {name}")
        for statement in statements:
            other.execute(statement)
        for _, made in triggers if keep_triggers else ():
            other.execute(made)


EDITS: dict[str, tuple[tuple[str, ...], tuple[FaultKind, str]]] = {
    "an event's words": (
        ("UPDATE events SET body = replace(body, 'level three', 'level nine')",),
        ("edited", "events"),
    ),
    "the order of events": (
        ("UPDATE events SET committed_at = '2020-01-01T00:00:00.000000Z' WHERE seq = 3",),
        ("edited", "events"),
    ),
    "events exchanged": (
        (
            "UPDATE events SET seq = -1 WHERE seq = 2",
            "UPDATE events SET seq = 2 WHERE seq = 3",
            "UPDATE events SET seq = 3 WHERE seq = -1",
        ),
        ("edited", "events"),
    ),
    "an event removed": (("DELETE FROM events WHERE seq = 4",), ("removed", "events")),
    "an event removed with its hash": (
        (
            "DELETE FROM events WHERE seq = 4",
            "UPDATE chain SET salt = NULL, content = NULL WHERE kind = 'event' AND ref = 4",
        ),
        ("removed", "events"),
    ),
    "an event removed with its link": (
        ("DELETE FROM events WHERE seq = 4", "DELETE FROM chain WHERE kind = 'event' AND ref = 4"),
        ("broken", ""),
    ),
    "an event put in": (
        (
            "INSERT INTO events SELECT 99, 'x', recording, about, body, '3' FROM events "
            "WHERE seq = 1",
        ),
        ("added", "events"),
    ),
    "a link exchanged": (("UPDATE chain SET link = x'00' WHERE seq = 3",), ("broken", "")),
    "whose session it was": (("UPDATE recordings SET dog = 'Other'",), ("edited", "recordings")),
    "a profile": (("UPDATE profiles SET name = 'Other' WHERE seq = 1",), ("edited", "profiles")),
    "a matter closed": (("DELETE FROM matter_events",), ("removed", "matter_events")),
    "the newest of all": (
        (
            "DELETE FROM matter_events",
            "DELETE FROM chain WHERE seq = (SELECT max(seq) FROM chain)",
        ),
        ("shorter", ""),
    ),
}  # fmt: skip


@pytest.fixture(scope="module")
def untouched(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("untouched")
    filled(folder)
    assert found(folder) == set()
    return folder


@pytest.mark.parametrize("name", EDITS)
def test_what_another_hand_did_is_found(tmp_path: Path, untouched: Path, name: str) -> None:
    shutil.copytree(untouched, tmp_path, dirs_exist_ok=True)
    database = tmp_path / "log.sqlite3"
    statements, fault = EDITS[name]
    by_hand(database, *statements)
    assert fault in found(tmp_path)


def test_a_write_by_another_program_never_becomes_a_link(tmp_path: Path) -> None:
    """With the triggers in place: what they wrote down of it is not linked by our next write."""
    database = filled(tmp_path)
    with closing(sqlite3.connect(database)) as other, other:
        other.execute("UPDATE recordings SET dog = 'Other'")
    with Log.open(tmp_path, now=ticking()) as log:
        log.append(spoken(MORNING.id, 7))
    assert found(tmp_path) == {("edited", "recordings")}


def test_a_database_emptied_exchanged_or_put_back_is_found(tmp_path: Path) -> None:
    database = filled(tmp_path / "log")
    old = shutil.copyfile(database, tmp_path / "old.sqlite3")
    with Log.open(tmp_path / "log", now=ticking()) as log:
        log.append(spoken(MORNING.id, 7))
    assert found(tmp_path / "log") == set()
    shutil.copyfile(old, database)
    assert found(tmp_path / "log") == {("shorter", "")}

    shutil.copyfile(filled(tmp_path / "another"), database)
    assert found(tmp_path / "log") == {("other device", "")}

    database.unlink()
    with Log.open(tmp_path / "log", now=ticking()) as log:
        log.begin_recording(MORNING)
    assert found(tmp_path / "log") == {("other device", "")}, "a later write does not hide it"
    with Log.open(tmp_path / "log", now=ticking()) as log:
        log.note_chain(anew=True)
    assert found(tmp_path / "log") == set()


def test_triggers_that_are_gone_and_sound_of_nothing_are_named(tmp_path: Path) -> None:
    database = filled(tmp_path)
    (tmp_path / "sound").mkdir()
    (tmp_path / "sound" / f"{sha('x')}.wav").write_bytes(b"x")
    by_hand(database, keep_triggers=False)
    report = checked(tmp_path)
    assert "events_no_delete" in report.odd
    assert report.loose == (f"{sha('x')}.wav",)


def test_a_roster_is_kept_once_and_known_by_its_hash(tmp_path: Path) -> None:
    roster = Roster(dogs=tuple(Dog(name=f"Dog {number}") for number in range(200)))
    with Log.open(tmp_path, now=ticking()) as log:
        for number in range(6):
            log.begin_recording(recording(str(number), sound=None, roster=roster))
        assert [one.roster for one in log.recordings()] == [roster] * 6
        with log.reading() as connection:
            run = connection.exec_driver_sql
            assert (
                run(
                    "SELECT max(length(roster)) + max(length(settings)) FROM recordings"
                ).scalar_one()
                < 200
            )
            assert run("SELECT count(*) FROM contents").scalar_one() == 202
    by_hand(
        tmp_path / "log.sqlite3", "UPDATE contents SET body = '{\"name\":\"X\"}' WHERE kind='dog'"
    )
    assert checked(tmp_path).altered == 200


def test_what_is_deleted_leaves_no_hash_to_guess_by(tmp_path: Path) -> None:
    with Log.open(tmp_path / "log", now=ticking()) as log:
        log.put_dog(Dog(name="Bramble"))
        recorded = taken_in(log, wav(tmp_path / "a.wav"), utterances=3)
        delete_parts(log, [part_of(recorded, log, 1)])
        delete_dog(log, "Bramble", [whole(log, recorded)])
        assert check_integrity(log).faults == ()
        with log.reading() as connection:
            run = connection.exec_driver_sql
            left = run("SELECT count(*) FROM chain WHERE kind = 'event' AND salt IS NOT NULL")
            assert left.scalar_one() == 0
            assert run("SELECT count(*) FROM contents").scalar_one() == 0
    assert b"Bramble" not in (tmp_path / "log" / "log.sqlite3").read_bytes()


Act = Callable[[Log, Log, str, Path], object]


def _sent(log: Log, other: Log, recorded: str, folder: Path) -> None:
    if other.recording(recorded) is None:
        return
    (folder / "b.zip").unlink(missing_ok=True)
    write_bundle(other, folder / "b.zip", [whole(other, recorded)], ["Bramble"])
    merge_bundle(log, folder / "b.zip")


ACTS: dict[str, Act] = {
    "append": lambda log, _o, one, _f: log.append(spoken(one, int(log.now().timestamp()) % 997)),
    "correct": lambda log, _o, one, _f: corrected(log, one, 0, "level two", "Anna"),
    "correct there": lambda _log, other, one, _f: corrected(other, one, 0, "level two", "Bert"),
    "take in": _sent,
    "dog": lambda log, _o, _one, _f: log.put_dog(BRAMBLE),
    "delete a part": lambda log, _o, one, _f: delete_parts(log, [part_of(one, log, 1)]),
    "note": lambda log, _o, _one, _f: log.note_chain(),
}


@settings(max_examples=3)
@given(acts=st.lists(st.sampled_from(sorted(ACTS)), min_size=1, max_size=8))
def test_whatever_the_log_does_itself_the_chain_holds(
    tmp_path_factory: pytest.TempPathFactory, acts: list[str]
) -> None:
    folder = tmp_path_factory.mktemp("chain")
    with (
        Log.open(folder / "one", now=ticking()) as log,
        Log.open(folder / "two", now=ticking(step_s=0.5)) as other,
    ):
        sound = wav(folder / "a.wav", 0.2)
        recorded = taken_in(log, sound)
        taken_in(other, sound)
        for act in acts:
            ACTS[act](log, other, recorded, folder)
        with log.reading() as connection:
            assert chain_end(connection).links > 0
        assert check_integrity(log).faults == ()
        log.note_chain()
    assert (folder / "one" / CHAIN_FILE).exists()
