"""Kill every command that writes, at random moments and inside its writes, and look.

    python -m tests.bench.crash 200            # kills in all, over all commands
    python -m tests.bench.crash 20 --command backup

A command runs on a copy of a log, in a forked child, and is killed (SIGKILL) either after a
random time or when it enters a random one of its own system calls that change the disk
(strace lends that: write, fsync, rename, unlink, truncate). Then must hold: SQLite's integrity
check passes; every event that was committed before is there; the command run again ends
well; and the log then equals the log of a run that nobody killed: nothing lost, nothing
doubled. The commands must be all that the program has, but those that only read.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import os
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from tests.store.merging import wav
from voicelog.cli import main as voicelog

__all__ = ["COMMANDS", "READ_ONLY", "Outcome", "kill_and_look", "may_trace", "prepared"]

_CALLS = "write,pwrite64,fsync,fdatasync,rename,renameat2,unlink,unlinkat,ftruncate"
_TYPED = (
    *("start session bracken", "level three came", "here", "no button came neck twitch"),
    *("next dog wren", "level two came", "strike that", "level four ignored"),
)
READ_ONLY = frozenset({"demo", "read", "summary", "words", "check", "progress", "plan", "kennel"})
"""Commands that write nothing but the cache of what is derived, which `rebuild` stands for."""

COMMANDS: dict[str, tuple[str, ...]] = {
    "dogs put": ("dogs", "put", "Bracken", "--top", "18"),
    "dogs remove": ("dogs", "remove", "Wren"),
    "dogs handler": ("dogs", "handler", "Anna"),
    "add": (
        "add",
        "--typed",
        "@in/two.tsv",
        "@in/three.tsv",
        "--at",
        "2026-04-20T07:30",
        "--anyway",
    ),
    "add (bundle)": ("add", "@in/wren.zip"),
    "rebuild": ("rebuild",),
    "export": ("export", "@out", "--format", "csv"),
    "export (bundle)": ("export", "@out", "--format", "bundle", "--dog", "Bracken"),
    "backup": ("backup", "@out.zip"),
    "restore": ("restore", "@in/backup.zip"),
    "delete session": ("delete", "session", "Bracken", "--day", "2026-04-18", "--yes"),
    "delete dog": ("delete", "dog", "Bracken", "--yes"),
    "delete sound": ("delete", "sound", "--older-than", "0", "--unread", "--memos", "--yes"),
}
"""By name, with "@" for the folder of the run."""


@dataclass(frozen=True)
class Outcome:
    """What one kill came to; `fault` is empty when all held."""

    command: str
    how: str
    fault: str
    killed: bool = True
    """False where the command had ended before."""


def may_trace() -> bool:
    """Whether strace is here and may do its work."""
    try:
        done = subprocess.run(["strace", "-qq", "-e", "trace=none", "true"], capture_output=True)
    except FileNotFoundError:
        return False
    return done.returncode == 0


def prepared(folder: Path) -> Path:
    """A folder with a log of two recordings, and what the commands take in."""
    run = folder / "start"
    inputs = run / "in"
    inputs.mkdir(parents=True)
    for number, name in enumerate(("one", "two", "three")):
        lines = [f"{4 * i + number}\t{4 * i + 2 + number}\t{w}" for i, w in enumerate(_TYPED)]
        (inputs / f"{name}.tsv").write_text("\n".join(lines) + "\n")
    for name in ("Bracken", "Wren"):
        _run(run, ("dogs", "put", name, "--top", "20"))
    _run(run, ("add", "--typed", "@in/one.tsv", "--at", "2026-04-18T07:30"))
    other = folder / "other"
    shutil.copytree(run, other)
    _run(other, ("add", "--typed", "@in/two.tsv", "--at", "2026-04-19T07:30"))
    _run(other, ("export", "@out", "--format", "bundle", "--dog", "Wren"))
    _run(other, ("backup", "@backup.zip"))
    shutil.copy(other / "out" / "wren.zip", inputs)
    shutil.copy(other / "backup.zip", inputs)
    sound = wav(inputs / "noise.wav", 1.0)
    assert _run(run, ("add", str(sound), "--dog", "Bracken", "--at", "2026-04-18T09:30")) == 0
    return run


def _run(run: Path, command: Sequence[str]) -> int:
    """Run a command on the log of a run, in this process, quietly; its exit code."""
    arguments = [part.replace("@", f"{run}/", 1) if "@" in part else part for part in command]
    before = sys.argv
    sys.argv = ["voicelog", *arguments]
    os.environ["VOICELOG_DATA"] = str(run / "data")
    try:
        with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()):
            voicelog()
    except SystemExit as stop:
        return int(stop.code or 0)
    finally:
        sys.argv = before
    return 0


def state(run: Path) -> dict[str, object]:
    """All that counts of a run's log and of what it wrote, without the times of writing."""
    with closing(sqlite3.connect(run / "data" / "log.sqlite3")) as connection:
        if (said := connection.execute("PRAGMA integrity_check").fetchone()) != ("ok",):
            raise AssertionError(f"integrity check: {said}")
        rows = {
            name: connection.execute(query).fetchall()
            for name, query in {
                "recordings": "SELECT id, sound, dog, roster, settings, complete FROM recordings"
                " ORDER BY id",
                "events": "SELECT id, recording, body FROM events ORDER BY recording, committed_at",
                "profiles": "SELECT kind, name, body, removed FROM profiles ORDER BY put_at",
                "tombs": "SELECT DISTINCT kind, id, from_s, to_s, swept FROM tombstones"
                " ORDER BY kind, id, from_s",
                "derived": "SELECT key, recording, dog, body FROM derived ORDER BY key",
            }.items()
        }
    files: dict[str, object] = {}
    for path in sorted((run / "data").rglob("*")):
        own = path.name.startswith("log.sqlite3") or path.name in ("chain.json", "backups.json")
        if path.is_file() and not own and path.suffix != ".part":  # those have times and chance
            files[str(path.relative_to(run))] = path.read_bytes()
    for path in sorted(run.rglob("*.zip")) + sorted(run.rglob("*.csv")):
        if "in" not in path.relative_to(run).parts:
            files[str(path.relative_to(run))] = path.suffix == ".zip" or path.read_bytes()
    return {**rows, "files": files}


def events_of(found: dict[str, object]) -> dict[str, object]:
    rows: object = found["events"]
    assert isinstance(rows, list)
    return {row[0]: row for row in rows}


def _in_a_child(run: Path, command: Sequence[str]) -> int:
    """A stopped child that will run the command once it is let go; its id."""
    child = os.fork()
    if child == 0:
        os.kill(os.getpid(), signal.SIGSTOP)
        code = 70
        try:
            code = _run(run, command)
        finally:
            os._exit(code)
    os.waitpid(child, os.WUNTRACED)
    return child


def _traced(child: int, inject: int | None) -> tuple[subprocess.Popen[bytes], Path]:
    """strace on a stopped child; it kills at the call of that number."""
    log = Path(tempfile.mkstemp(prefix="strace-")[1])
    command = ["strace", "-f", "-qq", "-o", str(log), "-e", f"trace={_CALLS}", "-p", str(child)]
    if inject is not None:
        command += ["-e", f"inject={_CALLS}:signal=SIGKILL:when={inject}"]
    tracer = subprocess.Popen(command, stderr=subprocess.DEVNULL)
    while "TracerPid:\t0" in Path(f"/proc/{child}/status").read_text():
        if tracer.poll() is not None:
            raise RuntimeError("strace could not take hold of the child")
        time.sleep(0.002)
    return tracer, log


def _calls(run: Path, command: Sequence[str]) -> int:
    """How many calls that change the disk the command makes when nobody kills it."""
    child = _in_a_child(run, command)
    tracer, log = _traced(child, None)
    os.kill(child, signal.SIGCONT)
    os.waitpid(child, 0)
    tracer.wait()
    count = sum("(" in line and "resumed" not in line for line in log.read_text().splitlines())
    log.unlink()
    return count


def kill_and_look(
    start: Path, name: str, kills: int, chance: random.Random, *, inside: bool
) -> list[Outcome]:
    """Kill a command so many times, every second time inside its writes where that can be."""
    command = COMMANDS[name]
    before = state(start)
    with tempfile.TemporaryDirectory(prefix="crash-", dir=start.parent) as folder:
        whole = Path(folder) / "whole"
        shutil.copytree(start, whole)
        began = time.monotonic()
        child = _in_a_child(whole, command)
        os.kill(child, signal.SIGCONT)
        _, status = os.waitpid(child, 0)
        took = time.monotonic() - began
        if os.waitstatus_to_exitcode(status) != 0:
            return [Outcome(name, "not killed", f"exit code {os.waitstatus_to_exitcode(status)}")]
        wanted = _comparable(state(whole))
        calls = 0
        if inside:
            counted = Path(folder) / "counted"
            shutil.copytree(start, counted)
            calls = _calls(counted, command)
        outcomes = []
        for number in range(kills):
            run = Path(folder) / f"{number}"
            shutil.copytree(start, run)
            child = _in_a_child(run, command)
            if calls and number % 2 == 0:
                at = chance.randint(1, calls)
                how = f"in call {at} of {calls}"
                tracer, log = _traced(child, at)
                os.kill(child, signal.SIGCONT)
                _, status = os.waitpid(child, 0)
                tracer.wait()
                log.unlink()
            else:
                after = chance.uniform(0, took)
                how = f"after {after:.3f} of {took:.3f} s"
                os.kill(child, signal.SIGCONT)
                time.sleep(after)
                os.kill(child, signal.SIGKILL)
                _, status = os.waitpid(child, 0)
            killed = os.WIFSIGNALED(status)
            if not killed and not how.startswith("in call"):
                took = min(took, after)  # it was quicker than the first time
            outcomes.append(Outcome(name, how, _fault(run, command, before, wanted), killed))
            shutil.rmtree(run)
    return outcomes


def _fault(
    run: Path, command: Sequence[str], before: dict[str, object], wanted: dict[str, object]
) -> str:
    """What does not hold after a kill, or nothing."""
    try:
        found = state(run)
        gone = events_of(before).keys() - events_of(found).keys() - _buried(found)
        if gone:
            return f"{len(gone)} committed events are lost"
        code = _run(run, command)
        after = _comparable(state(run))
    except Exception as error:
        return f"{type(error).__name__}: {error}"[:300]
    if after != wanted:
        differs = [name for name in wanted if after[name] != wanted[name]]
        return f"after the rerun (exit {code}) it differs in {', '.join(differs)}"
    return ""


def _buried(found: dict[str, object]) -> set[str]:
    tombs: object = found["tombs"]
    assert isinstance(tombs, list)
    return {row[1] for row in tombs if row[0] == "event"}


def _comparable(found: dict[str, object]) -> dict[str, object]:
    """A state in which putting the same on the roster twice is once."""
    profiles = found["profiles"]
    assert isinstance(profiles, list)
    return {**found, "profiles": {row[:2]: row for row in profiles}}


def main(arguments: Sequence[str] | None = None) -> int:
    """Kill, look, print the counts."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("kills", type=int)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--command", choices=sorted(COMMANDS))
    chosen = parser.parse_args(arguments)
    names = [chosen.command] if chosen.command else list(COMMANDS)
    chance = random.Random(chosen.seed)
    inside = may_trace()
    if not inside:
        print("no strace here: kills at random moments only")
    outcomes: list[Outcome] = []
    with tempfile.TemporaryDirectory(prefix="crash-") as folder:
        start = prepared(Path(folder))
        for number, name in enumerate(names):
            share = (chosen.kills * (number + 1)) // len(names) - (chosen.kills * number) // len(
                names
            )
            done = kill_and_look(start, name, share, chance, inside=inside)
            faults = [one for one in done if one.fault]
            hit = [one for one in done if one.killed]
            within = sum(one.how.startswith("in call") for one in hit)
            print(
                f"{name}: {len(hit)} of {len(done)} killed, {within} in writes, "
                f"{len(faults)} faults"
            )
            for one in faults:
                print(f"    {one.how}: {one.fault}")
            sys.stdout.flush()
            outcomes += done
    bad = sum(bool(one.fault) for one in outcomes)
    killed = sum(one.killed for one in outcomes)
    ended = len(outcomes) - killed
    print(f"{killed} killed, {ended} had ended before, {bad} faults, seed {chosen.seed}")
    return int(bad > 0)


if __name__ == "__main__":
    sys.exit(main())
