"""An older log is brought up to date whole or not at all, after a copy was put aside."""

from __future__ import annotations

import json
import re
import runpy
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from inspect import unwrap
from pathlib import Path
from typing import Any

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory

from tests.empty_logs import remembering
from tests.store.data.make_shared import segments_of
from tests.store.log_cases import CHILD, clock, one_of_each, recording, spoken
from voicelog.store import DamagedLogError, Log, database, schema
from voicelog.store.integrity import check_integrity
from voicelog.store.share.showing import no_trial, refold

DATA = Path(__file__).with_name("data")
MORNING = recording()

LAST = schema.REVISIONS[-1]
NEXT = '''
"""A step of tomorrow, for the tests: rebuild a table that others point to, add one, act."""

import os
import signal

import sqlalchemy as sa
from alembic import op

revision = "tomorrow"
down_revision = "{last}"


def upgrade():
    with op.batch_alter_table("recordings", recreate="always") as table:
        table.add_column(sa.Column("weather", sa.Text, server_default="not said"))
    op.create_table("harvest", sa.Column("id", sa.Text, primary_key=True))
    op.execute("INSERT INTO harvest SELECT id FROM events")
    {act}
'''


def dump(path: Path) -> list[str]:
    with closing(sqlite3.connect(path)) as connection:
        return list(connection.iterdump())


def test_the_empty_logs_of_the_tests_are_what_the_migrations_make(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    migrations = unwrap(database._upgrade)
    monkeypatch.setattr(database, "_upgrade", remembering(migrations))
    for name in ("migrated", "made", "made too"):
        database.make_database(tmp_path / name, "head")
    migrated, made, other = (dump(tmp_path / name) for name in ("migrated", "made", "made too"))
    own = [[line for line in each if 'INTO "device"' in line] for each in (made, other)]
    assert own[0] != own[1]
    assert [len(each) for each in own] == [1, 1]
    unlike = re.compile("'[0-9a-f]{32}'")
    assert sorted(unlike.sub("", line) for line in made) == sorted(
        unlike.sub("", line) for line in migrated
    )


def old_log(folder: Path) -> Path:
    """A log of the last revision in `folder`; its database."""
    folder.mkdir(exist_ok=True)
    path = folder / "log.sqlite3"
    shutil.copyfile(DATA / f"revision_{LAST}.sqlite3", path)
    return path


def backups(path: Path) -> list[Path]:
    return sorted(other for other in path.parent.iterdir() if other.name.startswith("log-"))


@pytest.fixture
def tomorrow(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[str], Path]:
    """The program as it will be with one more revision, which ends in a given statement."""

    def with_act(act: str) -> Path:
        migrations = tmp_path / "migrations of 100% tomorrow"
        shutil.copytree(database.MIGRATIONS, migrations, ignore=shutil.ignore_patterns("__py*"))
        step = NEXT.format(act=act, last=LAST)
        (migrations / "versions" / "revision_tomorrow.py").write_text(step)
        monkeypatch.setattr(database, "MIGRATIONS", migrations)
        monkeypatch.setattr(schema, "REVISIONS", (*schema.REVISIONS, "tomorrow"))
        return migrations

    return with_act


def test_every_revision_has_its_step_and_its_database() -> None:
    script = ScriptDirectory(str(database.MIGRATIONS))
    steps = [step.revision for step in script.walk_revisions()]
    assert tuple(reversed(steps)) == schema.REVISIONS
    databases = sorted(path.stem for path in DATA.glob("revision_*.sqlite3"))
    assert databases == [f"revision_{revision}" for revision in schema.REVISIONS]


def test_the_tables_of_the_program_are_those_the_steps_make(tmp_path: Path) -> None:
    with Log.open(tmp_path, now=clock) as log, log._engine.connect() as connection:
        context = MigrationContext.configure(connection)
        assert compare_metadata(context, schema.metadata) == []


@pytest.mark.parametrize("revision", schema.REVISIONS)
def test_a_database_of_every_revision_opens_without_loss(tmp_path: Path, revision: str) -> None:
    read: Callable[[Log], dict[str, Any]] = runpy.run_path(str(DATA / "make_revision.py"))["read"]
    saved = DATA / f"revision_{revision}.sqlite3"
    wanted = json.loads(saved.with_suffix(".json").read_text(encoding="utf-8"))
    shutil.copyfile(saved, tmp_path / "log.sqlite3")
    with Log.open(tmp_path, now=clock) as log:
        assert holds(read(log), wanted)
        assert len(log.events(MORNING.id)) == len(one_of_each(MORNING.id))
        assert log.append(one_of_each(MORNING.id) + spoken(MORNING.id, 2)) == 3


@pytest.mark.parametrize("shared", sorted(path.name for path in DATA.glob("shared_*.sqlite3")))
def test_a_log_that_is_shared_opens_with_each_segment_as_it_was(
    tmp_path: Path, shared: str
) -> None:
    wanted = json.loads((DATA / shared).with_suffix(".json").read_text(encoding="utf-8"))
    assert len(wanted["segments"]) > 10
    shutil.copyfile(DATA / shared, tmp_path / "log.sqlite3")
    with Log.open(tmp_path, now=clock) as log:
        assert segments_of(log) == wanted["segments"]
        told = {one.id: [event.id for event in log.events(one.id)] for one in log.recordings()}
        assert told == wanted["events"]
        report = check_integrity(log)
        assert (report.faults, report.odd, report.altered) == ((), (), 0)
        with log.writing() as connection:
            refold(connection, told, no_trial, came=False)
        after = {one.id: [event.id for event in log.events(one.id)] for one in log.recordings()}
        assert after == told, "the hearings hold what they held"


def holds(found: Any, wanted: Any) -> bool:
    """Whether all of `wanted` is in `found`, which may have gained fields since."""
    if isinstance(wanted, dict):
        return isinstance(found, dict) and all(
            key in found and holds(found[key], value) for key, value in wanted.items()
        )
    if isinstance(wanted, list):
        return len(found) == len(wanted) and all(map(holds, found, wanted))
    return bool(found == wanted)


def test_an_older_log_is_copied_and_brought_up_to_date(
    tmp_path: Path, tomorrow: Callable[[str], Path]
) -> None:
    path = old_log(tmp_path / "log")
    before = dump(path)
    tomorrow("pass")
    with Log.open(path.parent, now=clock) as log:
        assert log.events(MORNING.id) == one_of_each(MORNING.id)
        assert log.append(spoken(MORNING.id, 2)) == 3
    after = dump(path)
    assert "INSERT INTO \"alembic_version\" VALUES('tomorrow');" in after
    assert any("harvest" in line for line in after)
    (backup,) = backups(path)
    assert backup.name == f"log-{LAST}-20260301T120000000000.sqlite3"
    assert dump(backup) == before


def test_a_log_that_is_up_to_date_is_not_copied_again(
    tmp_path: Path, tomorrow: Callable[[str], Path]
) -> None:
    path = old_log(tmp_path / "log")
    tomorrow("pass")
    with Log.open(path.parent, now=clock):
        pass
    backups(path)[0].unlink()
    with Log.open(path.parent, now=clock):
        pass
    assert backups(path) == []


def test_a_step_that_fails_leaves_the_old_log_whole(
    tmp_path: Path, tomorrow: Callable[[str], Path]
) -> None:
    path = old_log(tmp_path / "log")
    before = dump(path)
    tomorrow("raise RuntimeError('half way')")
    with pytest.raises(RuntimeError, match="half way"):
        Log.open(path.parent, now=clock)
    assert dump(path) == before
    assert dump(*backups(path)) == before


def test_a_step_that_leaves_a_reference_to_nothing_is_undone(
    tmp_path: Path, tomorrow: Callable[[str], Path]
) -> None:
    path = old_log(tmp_path / "log")
    before = dump(path)
    tomorrow("op.execute('DELETE FROM recordings')")
    with pytest.raises(DamagedLogError, match="foreign_key_check"):
        Log.open(path.parent, now=clock)
    assert dump(path) == before


def test_a_program_killed_half_way_through_a_step_leaves_the_old_log_whole(
    tmp_path: Path, tomorrow: Callable[[str], Path]
) -> None:
    path = old_log(tmp_path / "log")
    before = dump(path)
    migrations = tomorrow("os.kill(os.getpid(), signal.SIGKILL)")
    program = f"""
from pathlib import Path
from tests.empty_logs import remembering
from tests.store.log_cases import clock
from voicelog.store import Log, database, schema
database.MIGRATIONS = Path({str(migrations)!r})
schema.REVISIONS = (*schema.REVISIONS, "tomorrow")
Log.open(Path({str(path.parent)!r}), now=clock)
"""
    child = subprocess.run([sys.executable, "-c", program], check=False, env=CHILD)
    assert child.returncode == -9
    assert dump(path) == before
    assert dump(*backups(path)) == before


def test_a_damaged_older_log_is_not_changed(
    tmp_path: Path, tomorrow: Callable[[str], Path]
) -> None:
    path = old_log(tmp_path / "log")
    whole = path.read_bytes()
    damaged = whole[: len(whole) // 2] + b"\xff" * (len(whole) - len(whole) // 2)
    path.write_bytes(damaged)
    tomorrow("pass")
    with pytest.raises(DamagedLogError):
        Log.open(path.parent, now=clock)
    assert path.read_bytes() == damaged
    assert backups(path) == []


def test_a_moment_that_is_none_in_an_older_log_is_told_and_nothing_changed(
    tmp_path: Path,
) -> None:
    path = tmp_path / "log.sqlite3"
    shutil.copy(DATA / "revision_0002.sqlite3", path)
    with closing(sqlite3.connect(path)) as other, other:
        query = "SELECT name, sql FROM sqlite_master WHERE type = 'trigger'"
        triggers = other.execute(query).fetchall()
        for name, _ in triggers:
            other.execute(f"DROP TRIGGER {name}")
        changed = other.execute("UPDATE events SET committed_at = 'a Tuesday'").rowcount
        for _, made in triggers:
            other.execute(made)
    assert changed > 0
    before = dump(path)
    with pytest.raises(DamagedLogError, match="cannot be read"), Log.open(tmp_path, now=clock):
        pass
    assert dump(path) == before


def test_two_programs_that_meet_an_older_log_upgrade_it_once(
    tmp_path: Path, tomorrow: Callable[[str], Path]
) -> None:
    path = old_log(tmp_path / "log")
    tomorrow("import time; time.sleep(0.2)")
    with ThreadPoolExecutor(2) as threads:
        logs = list(threads.map(lambda _: Log.open(path.parent, now=clock), range(2)))
    for log in logs:
        assert log.events(MORNING.id) == one_of_each(MORNING.id)
        log.close()
    assert len(backups(path)) == 1
