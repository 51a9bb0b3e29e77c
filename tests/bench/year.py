"""A simulated year: 4 dogs a day, 5 days a week. How large, how quick at its end?

    python -m tests.bench.year [--sessions 1040] [--adds 9]

The year is invented (tests/bench/many_sessions.py). Then a session of the same length is added
to a log that has none and to the log of the year, by turns, so that both meet the same load of
the machine: in the log from the words of a typed recording, all that hearing costs being the
same in both. Printed are the size on disk, the time to open, and the medians with their ratio.
"""

from __future__ import annotations

import argparse
import random
import statistics
import sys
import tempfile
import time
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from functools import partial
from pathlib import Path

from tests.bench.many_sessions import DOGS, ENTRIES, _lines, make
from voicelog.app.add import add_file
from voicelog.app.open_file import IntakeOptions
from voicelog.app.session_catalog import SessionCatalog
from voicelog.model import Dog, Roster, Transmitter
from voicelog.safety.settings import Settings
from voicelog.store import Log

__all__ = ["main", "measured"]

SESSIONS = 4 * 5 * 52


def measured(folder: Path, sessions: int = SESSIONS, adds: int = 9) -> dict[str, float]:
    """Make the year in `folder` and measure it; seconds, bytes and a ratio by name."""
    year, empty = folder / "year", folder / "empty"
    make(year, sessions, dogs=4)
    unit = Transmitter(top=20)
    roster = Roster(dogs=tuple(Dog(name=name, transmitter=unit) for name in DOGS[:4]))
    order = IntakeOptions(roster=roster, settings=Settings(), typed=True, dog=DOGS[0])
    opening, first, last = list[float](), list[float](), list[float]()
    _add(order, folder / "warm", folder / "a.tsv", 99)  # loads what is loaded once
    for number in range(adds):
        opening.append(_timed(partial(_opened, year)))
        place = empty / f"{number}"
        with Log.open(place, now=datetime.now):  # made before, so that only the adding counts
            pass
        for into, times in ((place, first), (year, last))[:: 1 if number % 2 else -1]:
            times.append(_timed(partial(_add, order, into, folder / "a.tsv", number)))
    return {
        "bytes": sum(path.stat().st_size for path in year.glob("log.sqlite3*")),
        "open_s": statistics.median(opening),
        "first_s": statistics.median(first),
        "last_s": statistics.median(last),
        "ratio": statistics.median(last) / statistics.median(first),
    }


def _timed(work: partial[None]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def _opened(folder: Path) -> None:
    with Log.open(folder, now=datetime.now) as log:
        session_catalog = SessionCatalog(log)
        session_catalog.refresh()
        assert session_catalog.dogs()


def _add(order: IntakeOptions, folder: Path, path: Path, number: int) -> None:
    """Add a session as `voicelog add` does, and bring the diary up to date."""
    said = [line.replace("Placeholder", DOGS[0]) for line in _lines(random.Random(number))]
    lines = [f"{4 * i}\t{4 * i + 2}\t{words}" for i, words in enumerate(said)]
    path.write_text("\n".join([f"# {number}", *lines]) + "\n", "utf-8")
    at = datetime(2030, 1, 1 + number % 28, 7, 30)
    with Log.open(folder, now=lambda: datetime.now().astimezone()) as log:
        add_file(log, path, replace(order, at=at))
    with Log.open(folder, now=datetime.now) as log:
        SessionCatalog(log).refresh()


def main(arguments: Sequence[str] | None = None) -> int:
    """Print what was measured; 1 where the last session takes more than 1.2 times the first."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sessions", type=int, default=SESSIONS)
    parser.add_argument("--adds", type=int, default=9)
    given = parser.parse_args(arguments)
    with tempfile.TemporaryDirectory(prefix="year-") as folder:
        found = measured(Path(folder), given.sessions, given.adds)
    print(
        f"{given.sessions} sessions of {ENTRIES} entries: {found['bytes'] / 1e6:.0f} MB without "
        f"sound; opened in {found['open_s']:.3f} s; a session added in {found['last_s']:.3f} s, "
        f"to an empty log in {found['first_s']:.3f} s: ratio {found['ratio']:.2f} (medians of "
        f"{given.adds})"
    )
    return int(found["ratio"] > 1.2)


if __name__ == "__main__":
    sys.exit(main())
