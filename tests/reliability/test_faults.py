"""Disks that fill, permissions that go, clocks that jump: said in a sentence, nothing lost."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from tests.cli.run import Voicelog, caller, typed_file
from tests.store.log_cases import CHILD, NOON, recording, spoken
from voicelog.model import Event
from voicelog.store import Log
from voicelog.store.integrity import check_integrity

SESSION = ("start session bracken", "level three came", "here", "no button came")
PROGRAM = "import sys; from voicelog.cli import main; sys.argv[0] = 'voicelog'; main()"


@pytest.fixture
def voicelog(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> Voicelog:
    monkeypatch.setenv("VOICELOG_DATA", str(tmp_path / "data"))
    return caller(monkeypatch, capsys)


# --- a full disk ------------------------------------------------------------------------

FULL = """
import os, subprocess, sys
from pathlib import Path
from voicelog.cli import main

disk, inputs = Path(sys.argv[1]), Path(sys.argv[2])
subprocess.run(["mount", "-t", "tmpfs", "-o", "size=24m", "none", disk], check=True)
os.environ["VOICELOG_DATA"] = str(disk / "data")

def run(*command):
    sys.argv = ["voicelog", *map(str, command)]
    try:
        main()
        code = 0
    except SystemExit as stop:
        code = stop.code or 0
    print(command[0], code, flush=True)

run("dogs", "put", "Bracken", "--top", "20")
run("add", "--typed", inputs / "first.tsv", "--dog", "Bracken", "--at", "2026-04-18T07:30")
for number in (1, 2):
    with open(disk / f"fill{number}", "wb", buffering=0) as file:
        try:
            while True:
                file.write(bytes(4096))
        except OSError:
            pass
print("full", flush=True)
run("add", "--typed", inputs / "long.tsv", "--dog", "Bracken", "--at", "2026-04-19T07:30")
run("backup", disk / "b.zip")
run("export", disk / "out")
print(*sorted(path.name for path in disk.rglob("*")))
for number in (1, 2):
    (disk / f"fill{number}").unlink()
run("check")
run("add", "--typed", inputs / "long.tsv", "--dog", "Bracken", "--at", "2026-04-19T07:30")
run("check")
"""


def mounting() -> list[str]:
    """A command's head that lets it mount; expected to fail where the system forbids it."""
    heads = [["unshare", "-m"], ["unshare", "-Urm"]]
    for head in heads if sys.platform == "linux" and shutil.which("unshare") else []:
        trial = f"mount -t tmpfs none {tempfile.gettempdir()}"
        if subprocess.run([*head, "sh", "-c", trial], capture_output=True).returncode == 0:
            return head
    pytest.xfail("this system does not let a test mount a disk of its own")


def test_a_full_disk_is_said_and_what_was_committed_stays(tmp_path: Path) -> None:
    head = mounting()
    disk = tmp_path / "disk"
    disk.mkdir()
    typed_file(tmp_path, *SESSION, name="first.tsv")
    typed_file(tmp_path, *SESSION, *["level two came neck twitch"] * 150, name="long.tsv")
    done = subprocess.run(
        [*head, sys.executable, "-c", FULL, str(disk), str(tmp_path)],
        env=CHILD,
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr
    assert "Traceback" not in done.stderr
    before, _, after = done.stdout.partition("full\n")
    said = after.splitlines()
    assert "add 0" in before
    assert [said[0], said[1], said[2]] == ["add 1", "backup 1", "export 1"], done.stdout
    files = said[3].split()
    assert "b.zip" not in files
    assert not [name for name in files if name.endswith(".part")], "half files were left"
    lines = done.stderr.splitlines()
    assert len(lines) >= 3
    assert all("is full, so this step was not kept: free some space" in one for one in lines[:3])
    checks = [line for line in said if line.endswith("the database is whole.")]
    assert checks[-1] == "2 recordings with 474 events: the database is whole."
    assert said[-1] == "check 0"


# --- permissions ------------------------------------------------------------------------


@pytest.fixture
def nobody(voicelog: Voicelog, tmp_path: Path) -> Iterator[Path]:
    """A folder for a user who is not root; what a command loads, root has loaded before."""
    warm = ("--data-dir", tmp_path / "warm")
    voicelog("dogs", "put", "Bracken", *warm)
    voicelog("add", "--typed", typed_file(tmp_path, *SESSION), *warm)
    voicelog("backup", tmp_path / "warm.zip", *warm)
    folder = Path(tempfile.mkdtemp())
    folder.chmod(0o777)
    root = os.geteuid() == 0
    if root:
        os.setresuid(65534, 65534, 0)  # what root may do would hide the refusal
    try:
        yield folder
    finally:
        if root:
            os.setresuid(0, 0, 0)
        for path in [folder, *folder.rglob("*")]:
            if path.is_dir():
                path.chmod(0o755)
        shutil.rmtree(folder)


def test_a_folder_that_may_not_be_written_any_more_is_said(
    voicelog: Voicelog, nobody: Path
) -> None:
    data, inputs = nobody / "data", nobody / "in"
    inputs.mkdir()
    path = typed_file(inputs, *SESSION)
    at = ("--at", "2026-04-18T07:30", "--data-dir", data)
    voicelog("dogs", "put", "Bracken", "--data-dir", data)
    (data / "sound").mkdir()
    (data / "sound").chmod(0o500)
    for place, command in (
        (data / "sound", ("add", "--typed", path, *at)),
        (inputs / "b.zip", ("backup", inputs / "b.zip", "--data-dir", data)),
    ):
        inputs.chmod(0o500)
        result = voicelog(*command)
        inputs.chmod(0o700)
        assert (result.code, result.err) == (
            1,
            f"voicelog: {place} may not be written by this user, which the log needs: give "
            "write access, or choose another folder with --data-dir.\n",
        )
    (data / "sound").chmod(0o700)
    assert voicelog("add", "--typed", path, *at).code == 0
    assert voicelog("check", "--data-dir", data).code == 0


# --- clocks and zones -------------------------------------------------------------------


def test_a_clock_set_back_does_not_change_the_order_of_events(tmp_path: Path) -> None:
    now = [NOON]
    morning = recording()
    with Log.open(tmp_path, now=lambda: now[0]) as log:
        log.begin_recording(morning)
        wanted: list[Event] = []
        for number, jump in enumerate((0, -7200, 0, 10**6, -(10**6), -(10**8))):
            now[0] += timedelta(seconds=jump)
            log.append(spoken(morning.id, number))
            wanted += spoken(morning.id, number)
            assert log.events(morning.id) == tuple(wanted)
        log.put_dog(recording().roster.dogs[0])
        now[0] -= timedelta(days=400)
        log.remove_dog("Bramble")
        assert log.roster().dogs == ()
        stamps = [at for at, _ in log.stamped_events(morning.id)]
    assert stamps == sorted(set(stamps))


@pytest.mark.parametrize("zone", ["America/New_York", "Pacific/Kiritimati"])
def test_the_machines_zone_changes_nothing_that_was_kept(
    voicelog: Voicelog, tmp_path: Path, zone: str
) -> None:
    """The wall clock of the field is what counts, also in the hour that comes twice."""
    voicelog("dogs", "put", "Bracken")
    for number, at in enumerate(
        ("2026-10-25T01:30+01:00", "2026-10-25T01:40+00:00", "2026-03-29T01:59", "2025-12-31T23:58")
    ):
        path = typed_file(tmp_path, *SESSION, f"level {number + 2} came", name=f"{number}.tsv")
        assert voicelog("add", "--typed", path, "--dog", "Bracken", "--at", at).code == 0
    here = voicelog("summary", "--all").out
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM, "summary", "--all"],
        env=CHILD | {"TZ": zone, "VOICELOG_DATA": str(tmp_path / "data")},
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout == here
    assert here.index("29 Mar 2026, 1:59") < here.index("25 Oct 2026, 1:30")
    assert here.index("25 Oct 2026, 1:30") < here.index("25 Oct 2026, 1:40")


# --- sound that is not as it was ----------------------------------------------------------


def test_the_log_works_on_without_its_sound(voicelog: Voicelog, tmp_path: Path) -> None:
    voicelog("dogs", "put", "Bracken")
    path = typed_file(tmp_path, *SESSION)
    voicelog("add", "--typed", path, "--dog", "Bracken", "--at", "2026-04-18T07:30")
    before = voicelog("summary", "--all").out
    shutil.rmtree(tmp_path / "data" / "sound")
    assert voicelog("rebuild").code == 0
    assert voicelog("summary", "--all").out == before
    sent = voicelog("export", tmp_path / "out", "--format", "bundle", "--dog", "Bracken")
    assert sent.code == 0
    assert sent.err == "voicelog: the sound of session.tsv is not there to be handed over.\n"
    with Log.open(tmp_path / "data", now=lambda: datetime.now(UTC)) as log:
        assert check_integrity(log).missing == ("session.tsv",)
