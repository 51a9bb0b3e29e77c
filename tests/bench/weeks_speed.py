"""How long the papers over weeks take on a long log, cold and warm.

    python -m tests.bench.weeks_speed FOLDER [--dog Bracken] [--on DATE] [--times 3] [--calm]
        [--dogs 20] [--sessions 10000]

FOLDER holds a log as `tests.bench.many_sessions` makes it (10,000 sessions of 20 dogs by default);
it is made there when it is missing, with `--calm` one without an open matter in nearly every
session.
Each command runs in a process of its own, as a user runs it. "Cold" is the first run after the
file's pages were dropped from memory, where the system lets us; "warm" is the best of the runs
after it. CPU seconds stand beside, since other work on the machine makes the wall clock long.
"""

from __future__ import annotations

import argparse
import os
import resource
import subprocess
import sys
import time
from pathlib import Path

from tests.bench.many_sessions import make

LIMITS_S = {"progress": 2.0, "plan": 2.0, "kennel": 3.0}


def forget(path: Path) -> bool:
    """Drop a file's pages from memory; whether the system could."""
    if not hasattr(os, "posix_fadvise"):
        return False
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
        os.posix_fadvise(handle, 0, 0, os.POSIX_FADV_DONTNEED)
    finally:
        os.close(handle)
    return True


def run(*arguments: str) -> tuple[float, float]:
    """Wall and CPU seconds of one command; it has to succeed."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    start = time.perf_counter()
    code = "from voicelog.cli import main; main()"
    subprocess.run([sys.executable, "-c", code, *arguments], check=True, stdout=subprocess.DEVNULL)
    wall = time.perf_counter() - start
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return wall, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--dog", default="Bracken")
    parser.add_argument("--on", default="2022-10-01")
    parser.add_argument("--times", type=int, default=3)
    parser.add_argument("--calm", action="store_true")
    parser.add_argument("--dogs", type=int, default=20)
    parser.add_argument("--sessions", type=int, default=10_000)
    given = parser.parse_args()
    if make(given.folder, given.sessions, given.dogs, calm=given.calm):
        print("log made")
    database = given.folder / "log.sqlite3"
    for name, what in (("progress", [given.dog]), ("plan", [given.dog]), ("kennel", [])):
        arguments = [name, *what, "--on", given.on, "--data-dir", str(given.folder)]
        dropped = forget(database)
        cold = run(*arguments)
        warm = min(run(*arguments) for _ in range(given.times))
        print(
            f"{name}: {'cold' if dropped else 'first'} {cold[0]:.2f} s ({cold[1]:.2f} s CPU), "
            f"warm {warm[0]:.2f} s ({warm[1]:.2f} s CPU); wanted under {LIMITS_S[name]:.0f} s"
        )


if __name__ == "__main__":
    main()
