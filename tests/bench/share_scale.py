"""A kennel of many trainers, dogs and years: what each command takes on a laptop that joins it.

    python -m tests.bench.share_scale [--trainers 30] [--dogs 200] [--years 5] [--weekly 2]
        [--jobs 2] [--folder FOLDER]

All of it is invented (tests/bench/share_bulk.py): sessions of 50 entries, two of them read by a
person, of which each trainer gives out a part; then a laptop with nothing joins. Printed are
counts, and seconds and memory of each command as a process of its own, start included (memory not
under that of this program itself, which starts it). Five years of 200 dogs are 104,000 sessions,
which take hours: scale with --years, and compare two sizes to see what grows with the log and what
does not. With --folder the share is made there and kept, and one that is there is joined as it is.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path

from tests.bench.many_sessions import FIRST_DAY
from tests.bench.share_bulk import Kennel, make_day, make_share
from voicelog.store import Log
from voicelog.store.share.asides import asides

_ENTRY = ("--day", FIRST_DAY.isoformat(), "--entry", "3")
_LIST = (
    "import sys; from datetime import UTC, datetime; from pathlib import Path; "
    "from voicelog.app.session_catalog import ready_catalog; "
    "from voicelog.store import Log, SessionFilter; "
    "log = Log.open(Path(sys.argv[2]), now=lambda: datetime.now(UTC)); "
    "print(ready_catalog(log).headings(SessionFilter(), limit=50).total)"
)
"""The first page of the list, as the page shows it."""


def measure(folder: Path, kennel: Kennel, jobs: int) -> None:
    """Make the kennel, let a laptop join, and print what each command takes."""
    share, office, made = folder / "share", folder / "office", folder / "made.json"
    began = time.perf_counter()
    if not made.exists():
        made.write_text(json.dumps(make_share(folder, share, kennel, jobs)))
    events = int(json.loads(made.read_text()))
    files = list(share.rglob("*.seg"))
    size = sum(file.stat().st_size for file in files) / 1e6
    print(
        f"{kennel.trainers} trainers, {kennel.dogs} dogs, {kennel.sessions} sessions, "
        f"{events} events: {len(files)} files, {size:.1f} MB, "
        f"made in {time.perf_counter() - began:.0f} s",
        flush=True,
    )
    _run("join and take in all", office, ("share", "start", share, "--as", "office"), events)
    with Log.open(office, now=lambda: datetime.now(UTC)) as log:
        assert log.event_count() == events, "all that was given out is in the log"
        assert not asides(log), "and nothing is set aside"
        assert not log.asides(), "nor any recording"
    name_of_one = kennel.names[0]
    for name, command in (
        ("open", ("dogs", "list")),
        ("first page of the list", ()),
        ("summary of all", ("summary", "--all")),
        ("progress", ("progress", name_of_one)),
        ("plan of all dogs", ("kennel",)),
        ("matters", ("matters", "list")),
        ("correct", ("correct", name_of_one, *_ENTRY, "--words", "level two", "--as", "Anna")),
        ("nothing new", ("share", "now")),
        ("status", ("share", "status")),
    ):
        _run(name, office, command, 0)
    new = make_day(folder, share, kennel, 4)
    made.write_text(json.dumps(events + new))
    _run(f"a day, {new} events", office, ("share", "now"), new)
    _run("check", office, ("check",), 0)
    base = (office / "log.sqlite3").stat().st_size
    print(
        f"the database of the laptop that joined: {base / 1e6:.0f} MB, {base / events:.0f} B/event"
    )


def _run(name: str, folder: Path, command: tuple[object, ...], events: int) -> None:
    """Run a command (an empty one is the list) and print what it took."""
    began = time.perf_counter()
    program = "from voicelog.cli import main; main()" if command else _LIST
    words = [sys.executable, "-c", program, *map(str, command), "--data-dir", str(folder)]
    process = subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
    assert process.stderr is not None
    said = process.stderr.read().decode()
    _, status, used = os.wait4(process.pid, 0)
    took, busy = time.perf_counter() - began, used.ru_utime + used.ru_stime
    rate = f", {events / busy:.0f} events per second of it" if events else ""
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
    options.add_argument("--jobs", type=int, default=2, help="trainers made at the same time")
    options.add_argument("--folder", type=Path, help="where the share is made, and kept")
    chosen = options.parse_args()
    sessions = max(chosen.trainers, round(chosen.dogs * chosen.years * 52 * chosen.weekly))
    kennel = Kennel(chosen.trainers, chosen.dogs, sessions, chosen.weekly)
    if chosen.folder is not None:
        chosen.folder.mkdir(parents=True, exist_ok=True)
        measure(chosen.folder, kennel, chosen.jobs)
        return
    with tempfile.TemporaryDirectory() as folder:
        measure(Path(folder), kennel, chosen.jobs)


if __name__ == "__main__":
    main()
