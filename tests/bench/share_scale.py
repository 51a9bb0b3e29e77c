"""A kennel of many trainers, dogs and years: what each command takes on a laptop that joins it.

    python -m tests.bench.share_scale [--trainers 30] [--dogs 200] [--years 5] [--weekly 2]

All of it is invented. Every trainer's log hears its part of the sessions (50 entries each, some
read by the trainer) and gives them out; then a laptop with nothing joins. Printed are counts, and
seconds and memory of each command as a process of its own, start included (memory not under that
of this program itself, which starts it). Five years of 200 dogs
are 104,000 sessions, which no evening makes: scale with --years, and compare two sizes to see what
grows with the log and what does not.
"""

from __future__ import annotations

import argparse
import os
import random
import subprocess
import sys
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path

from tests.bench.many_sessions import FIRST_DAY
from tests.bench.share_taking import add_sessions, correct
from voicelog.app.share import start_share
from voicelog.model import Dog, Roster, Transmitter
from voicelog.store import Log
from voicelog.store.share.exchange import author_of, publish
from voicelog.store.share.place import SharePlace

_UNIT = Transmitter(top=20)
_ENTRY = ("--day", FIRST_DAY.isoformat(), "--entry", "3")


def measure(folder: Path, trainers: int, dogs: int, sessions: int) -> None:
    """Make the kennel, let a laptop join, and print what each command takes."""
    roster = Roster(dogs=tuple(Dog(name=f"Dog{n:03d}", transmitter=_UNIT) for n in range(dogs)))
    share, office = folder / "share", folder / "office"
    began = time.perf_counter()
    events = 0
    for number in range(trainers):
        with Log.open(folder / f"t{number}", now=lambda: datetime.now(UTC)) as log:
            if number == 0:
                for dog in roster.dogs:
                    log.put_dog(dog)
            first, last = sessions * number // trainers, sessions * (number + 1) // trainers
            add_sessions(log, first, last - first, roster)
            _give(log, share, f"trainer {number}")
            events += log.event_count()
    files = list(share.rglob("*.seg"))
    size = sum(file.stat().st_size for file in files) / 1e6
    print(
        f"{trainers} trainers, {dogs} dogs, {sessions} sessions, {events} events: "
        f"{len(files)} files, {size:.1f} MB, made in {time.perf_counter() - began:.0f} s",
        flush=True,
    )
    name_of_one = roster.dogs[0].name
    commands = (
        ("join and take in all", ("share", "start", share, "--as", "office")),
        ("open", ("dogs", "list")),
        ("list", ("summary", "--all")),
        ("progress", ("progress", name_of_one)),
        ("plan of all dogs", ("kennel",)),
        ("matters", ("matters", "list")),
        ("correct", ("correct", name_of_one, *_ENTRY, "--words", "level two", "--as", "Anna")),
        ("nothing new", ("share", "now")),
        ("status", ("share", "status")),
    )
    for name, command in commands:
        _run(name, office, command, events)
    with Log.open(folder / "t0", now=lambda: datetime.now(UTC)) as log:
        before = log.event_count()
        old = random.Random(1).sample(log.recordings(), min(4, len(log.recordings())))
        add_sessions(log, sessions, 4, roster)
        for one in old:
            correct(log, one.id, random.Random(2), 2)
        _give(log, share, "trainer 0")
        new = log.event_count() - before
    _run(f"a day, {new} events", office, ("share", "now"), new)
    _run("check", office, ("check",), 0)
    base = (office / "log.sqlite3").stat().st_size / 1e6
    print(f"the database of the laptop that joined: {base:.0f} MB")


def _give(log: Log, share: Path, name: str) -> None:
    known = author_of(log)
    place = start_share(log, share, name)[0] if known is None else None
    known = author_of(log)
    assert known is not None
    publish(log, place or _place(log, share), known[0])


def _place(log: Log, share: Path) -> SharePlace:
    return SharePlace.open(share, log.folder, make=False)


def _run(name: str, folder: Path, command: tuple[object, ...], events: int) -> None:
    """Run a command and print what it took."""
    began = time.perf_counter()
    words = [sys.executable, "-c", "from voicelog.cli import main; main()"]
    words += [*map(str, command), "--data-dir", str(folder)]
    process = subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
    assert process.stderr is not None
    said = process.stderr.read().decode()
    _, status, used = os.wait4(process.pid, 0)
    took, busy = time.perf_counter() - began, used.ru_utime + used.ru_stime
    rate = f", {events / busy:.0f} events per second of it" if events and "share" in command else ""
    bad = f"; code {os.waitstatus_to_exitcode(status)}: {said.strip()[-120:]}" if status else ""
    print(
        f"{name}: {took:.1f} s (processor {busy:.1f} s{rate}), "
        f"at most {used.ru_maxrss / 1024:.0f} MB{bad}",
        flush=True,
    )


def main() -> None:
    """Parse the options and run it."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--trainers", type=int, default=30)
    options.add_argument("--dogs", type=int, default=200)
    options.add_argument("--years", type=float, default=5.0)
    options.add_argument("--weekly", type=float, default=2.0, help="sessions of a dog in a week")
    chosen = options.parse_args()
    sessions = max(1, round(chosen.dogs * chosen.years * 52 * chosen.weekly))
    with tempfile.TemporaryDirectory() as folder:
        measure(Path(folder), chosen.trainers, chosen.dogs, sessions)


if __name__ == "__main__":
    main()
