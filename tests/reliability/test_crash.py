"""A command killed anywhere loses nothing, and run again it ends as if nobody had killed it;
tests/bench/crash.py has the long form."""

from __future__ import annotations

import os
import random
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.bench.crash import COMMANDS, READ_ONLY, kill_and_look, may_trace, prepared, state
from tests.store.log_cases import CHILD
from voicelog.cli import app

OUTSIDE = {
    *("listen", "soundcheck", "review", "owner", "settings", "listeners", "rehear"),
    *("voice", "learn", "correct", "matters", "questions", "manual", "lock"),
    *("share", "watch", "phone"),
}
"""Not killed here: they write nothing to a log, are killed in the tests of their rooms, or append
what a person did in one transaction, under a new id each time, which two runs cannot share."""


@pytest.fixture(scope="module")
def start(tmp_path_factory: pytest.TempPathFactory) -> Path:
    if not hasattr(os, "fork"):
        pytest.skip("the commands run in forked children")
    before = os.environ.get("VOICELOG_DATA")
    run = prepared(tmp_path_factory.mktemp("crash"))
    if before is None:
        os.environ.pop("VOICELOG_DATA", None)
    else:
        os.environ["VOICELOG_DATA"] = before
    return run


def test_every_command_is_killed_or_only_reads() -> None:
    killed = {command[0] for command in COMMANDS.values()}
    assert app.COMMANDS.keys() <= killed | READ_ONLY | OUTSIDE


@pytest.mark.parametrize("name", ["add", "add (bundle)", "restore", "delete session", "backup"])
def test_a_killed_command_loses_and_doubles_nothing(
    start: Path, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("VOICELOG_DATA", str(start / "data"))
    outcomes = kill_and_look(start, name, 2, random.Random(name), inside=may_trace())
    assert [one for one in outcomes if one.fault] == []


def test_programs_that_write_at_once_wait_their_turn(start: Path, tmp_path: Path) -> None:
    """Six commands of three kinds at once on one log: no loss, and nobody is told to wait."""
    run = tmp_path / "run"
    shutil.copytree(start, run)
    commands = [
        ("add", "--typed", str(run / "in" / "two.tsv"), "--at", "2026-04-19T07:30"),
        ("add", "--typed", str(run / "in" / "three.tsv"), "--at", "2026-04-20T07:30"),
        ("add", str(run / "in" / "wren.zip")),
        ("restore", str(run / "in" / "backup.zip")),
        ("dogs", "put", "Thorn", "--top", "9"),
        ("dogs", "handler", "Anna"),
    ]
    program = "import sys; from voicelog.cli import main; sys.argv[0] = 'voicelog'; main()"
    children = [
        subprocess.Popen(
            [sys.executable, "-c", program, *command],
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            env=CHILD | {"VOICELOG_DATA": str(run / "data")},
        )
        for command in commands
    ]
    said = [child.communicate()[0] for child in children]
    assert [child.returncode for child in children] == [0] * len(children), said
    found = state(run)
    recordings, profiles = found["recordings"], found["profiles"]
    assert isinstance(recordings, list)
    assert isinstance(profiles, list)
    assert len(recordings) == 4
    assert all(row[-1] for row in recordings), "one is not complete"
    assert {"Thorn", "Anna"} <= {row[1] for row in profiles}
