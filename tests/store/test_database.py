"""Opening: a new folder is made; what cannot be opened is left alone, and says why."""

from __future__ import annotations

import os
import shutil
import sqlite3
import sys
import tempfile
import threading
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from sqlalchemy import text

from tests.store.log_cases import clock, one_of_each, recording
from voicelog.model import VoicelogError
from voicelog.store import (
    DamagedLogError,
    Log,
    LogBusyError,
    LogPermissionError,
    NewerLogError,
    NotALogError,
    database,
    schema,
)

MORNING = recording()


def refused(folder: Path, kind: type[VoicelogError]) -> str:
    """The sentence with which opening is refused; nothing in the folder may change."""
    before = contents(folder)
    with pytest.raises(kind) as caught:
        Log.open(folder, now=clock)
    assert contents(folder) == before
    return str(caught.value)


def contents(folder: Path) -> dict[Path, bytes]:
    return {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_a_missing_folder_is_made_with_its_parents(tmp_path: Path) -> None:
    folder = tmp_path / "a" / "b c%d?e#é"
    with Log.open(folder, now=clock) as log:
        assert log.begin_recording(MORNING)
    assert sorted(path.name for path in folder.iterdir()) == ["chain.json", "log.sqlite3"]


def test_a_log_opened_again_has_lost_nothing(tmp_path: Path) -> None:
    with Log.open(tmp_path, now=clock) as log:
        log.begin_recording(MORNING)
        log.append(one_of_each(MORNING.id))
    with Log.open(tmp_path, now=clock) as log:
        assert log.events(MORNING.id) == one_of_each(MORNING.id)


def test_a_database_killed_before_its_first_page_is_begun_anew(tmp_path: Path) -> None:
    (tmp_path / "log.sqlite3").touch()
    with Log.open(tmp_path, now=clock) as log:
        assert log.begin_recording(MORNING)


def test_a_commit_is_on_disk_before_it_returns(tmp_path: Path) -> None:
    with Log.open(tmp_path, now=clock) as log, log._engine.connect() as connection:
        pragmas = ("journal_mode", "synchronous", "foreign_keys", "busy_timeout")
        found = [connection.scalar(text(f"PRAGMA {name}")) for name in pragmas]
    full, on, milliseconds = 2, 1, 30_000
    assert found == ["wal", full, on, milliseconds]


def test_a_folder_that_is_a_file_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "notes.txt"
    file.write_text("not a log")
    wanted = f"{file} is a file, not a folder for the log: choose another folder with --data-dir."
    for folder in (file, file / "within"):
        with pytest.raises(NotALogError) as caught:
            Log.open(folder, now=clock)
        assert str(caught.value) == wanted
    assert file.read_text() == "not a log"


def test_a_database_that_is_a_folder_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "log.sqlite3"
    path.mkdir()
    assert refused(tmp_path, NotALogError) == (
        f"{path} is a folder, not the database of a log: choose another folder with --data-dir."
    )


def test_a_database_of_something_else_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "log.sqlite3"
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("CREATE TABLE recipes (name)")
    assert refused(tmp_path, NotALogError) == (
        f"{path} is a database of something else, not the database of a log: "
        "choose another folder with --data-dir."
    )


def test_a_file_that_is_no_database_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "log.sqlite3"
    path.write_text("dear diary, " * 1000)
    assert refused(tmp_path, DamagedLogError) == (
        f"{path} is damaged (file is not a database): "
        "move it away and put the newest backup in its place."
    )


def test_a_database_cut_off_is_refused(tmp_path: Path) -> None:
    with Log.open(tmp_path, now=clock) as log:
        log.begin_recording(MORNING)
    path = tmp_path / "log.sqlite3"
    path.write_bytes(path.read_bytes()[:6000])
    assert refused(tmp_path, DamagedLogError) == (
        f"{path} is damaged (database disk image is malformed): "
        "move it away and put the newest backup in its place."
    )


def test_a_newer_log_is_refused_and_left_untouched(tmp_path: Path) -> None:
    with Log.open(tmp_path, now=clock) as log:
        log.begin_recording(MORNING)
    path = tmp_path / "log.sqlite3"
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute("UPDATE alembic_version SET version_num = '9999'")
    assert refused(tmp_path, NewerLogError) == (
        f"{path} was written by a newer voicelog (log version 9999, this program knows up to "
        f"{schema.REVISIONS[-1]}) and was left untouched: install the newer voicelog."
    )


@pytest.fixture
def nobody() -> Iterator[Path]:
    """A folder of root's, seen by a user who may only read it."""
    if sys.platform == "win32":
        pytest.skip("permission bits mean something else on Windows")
    folder = Path(tempfile.mkdtemp())
    root = os.geteuid() == 0
    with Log.open(folder / "log", now=clock):
        pass
    (folder / "log" / "log.sqlite3").chmod(0o444)
    (folder / "log").chmod(0o555)
    folder.chmod(0o555)
    if root:
        os.setresuid(65534, 65534, 0)  # what root may do would hide the refusal
    try:
        yield folder
    finally:
        if root:
            os.setresuid(0, 0, 0)
        folder.chmod(0o755)
        (folder / "log").chmod(0o755)
        shutil.rmtree(folder)


def test_a_log_that_may_only_be_read_is_refused(nobody: Path) -> None:
    assert refused(nobody / "log", LogPermissionError) == (
        f"{nobody / 'log'} may not be written by this user, which the log needs: "
        "give write access, or choose another folder with --data-dir."
    )


def test_a_folder_that_may_not_be_made_is_refused(nobody: Path) -> None:
    assert refused(nobody / "new", LogPermissionError) == (
        f"{nobody / 'new'} may not be written by this user, which the log needs: "
        "give write access, or choose another folder with --data-dir."
    )


def test_a_log_held_by_another_program_is_waited_for_then_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(database, "BUSY_S", 0.05)
    path = tmp_path / "log.sqlite3"
    with (
        Log.open(tmp_path, now=clock) as log,
        closing(sqlite3.connect(path, isolation_level=None)) as other,
    ):
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(LogBusyError) as caught:
            log.begin_recording(MORNING)
        assert log.recordings() == ()
        other.execute("ROLLBACK")
        assert log.begin_recording(MORNING)
    assert str(caught.value) == (
        f"{path} is held by another program, and waiting for it did not help: "
        "close that program and try again."
    )


def test_a_log_without_its_journal_mode_gets_it_back_once_readers_are_done(
    tmp_path: Path,
) -> None:
    with Log.open(tmp_path, now=clock) as log:
        log.begin_recording(MORNING)
    path = tmp_path / "log.sqlite3"
    with closing(sqlite3.connect(path, isolation_level=None, check_same_thread=False)) as reader:
        reader.execute("PRAGMA journal_mode = DELETE")
        reader.execute("BEGIN")
        reader.execute("SELECT * FROM recordings").fetchall()
        done = threading.Timer(0.3, reader.execute, ["COMMIT"])
        done.start()
        with Log.open(tmp_path, now=clock) as log:
            assert [kept.id for kept in log.recordings()] == [MORNING.id]
        done.join()
        reader.execute("SELECT * FROM recordings").fetchall()  # so that it looks again
        assert reader.execute("PRAGMA journal_mode").fetchone() == ("wal",)


def test_programs_that_turn_write_ahead_on_at_once_try_again() -> None:
    """SQLite refuses one of two at once without waiting: 4 of 360 in a trial of six threads."""
    tries: list[str] = []

    def execute(statement: str) -> None:
        tries.append(statement)
        if len(tries) < 3:
            busy = sqlite3.OperationalError("database is locked")
            busy.sqlite_errorcode = sqlite3.SQLITE_BUSY
            raise busy

    database._write_ahead(execute)
    assert tries == ["PRAGMA journal_mode = WAL"] * 3
