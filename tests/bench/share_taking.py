"""How quickly a share is given out and taken in, and what a day of it costs afterwards.

    python -m tests.bench.share_taking [--sessions 300] [--dogs 20] [--profile FILE]

Invented sessions of 50 entries (tests/bench/many_sessions.py) of which a person read some are put
into one log, shared, and taken in by an empty one. Then a day comes: a few sessions and a few
corrections of old ones. Printed are events a second and seconds; the disk is waited for as ever.
"""

from __future__ import annotations

import argparse
import cProfile
import hashlib
import random
import resource
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

from tests.bench.many_sessions import DOGS, FIRST_DAY, session_events
from voicelog.app.session_catalog import SessionCatalog
from voicelog.app.share import share_now, start_share
from voicelog.grammar.grammar import Grammar
from voicelog.model import Dog, Reading, Roster, Transmitter, Utterance
from voicelog.store import Log, Recording

_UNIT = Transmitter(top=20)


def add_sessions(log: Log, first: int, many: int, roster: Roster, *, read: int = 2) -> None:
    """Put sessions into a log, `read` notes of each read by a person."""
    chance = random.Random(first)
    grammar = Grammar.load(roster=roster)
    for number in range(first, first + many):
        name = hashlib.sha256(f"taking {number}".encode()).hexdigest()
        dog = roster.dogs[number % len(roster.dogs)].name
        day = FIRST_DAY + timedelta(days=number // len(roster.dogs))
        kept = Recording(
            id=name, sha256=name, file_name=f"{day}-{number}.wav", dog=dog, roster=roster,
            started_at=datetime(day.year, day.month, day.day, 7, 30), duration_s=300.0,
            grammar=grammar.name,
        )  # fmt: skip
        if not log.begin_recording(kept):
            continue
        told = list(session_events(name, grammar, chance, dog))
        log.append(told)
        log.finish_recording(name)
        correct(log, name, chance, read)


def correct(log: Log, recording: str, chance: random.Random, many: int) -> None:
    """A person reads notes of a recording."""
    notes = [one for one in log.events(recording) if isinstance(one, Utterance)]
    log.append(
        [
            Reading(
                id=f"p-{one.id}-{chance.randrange(10**9)}", utterance=one.id, by="person",
                words=chance.choice(("came", "ignored", "level two")), who="Anna", at=log.now(),
            )
            for one in chance.sample(notes, many)
        ]
    )  # fmt: skip


def measure(folder: Path, sessions: int, dogs: int, profile: Path | None) -> None:
    """Run it once and print what was measured."""
    roster = Roster(dogs=tuple(Dog(name=name, transmitter=_UNIT) for name in DOGS[:dogs]))
    logs = [Log.open(folder / name, now=lambda: datetime.now(UTC)) for name in "ab"]
    first, second = logs
    share = folder / "share"
    for dog in roster.dogs:
        first.put_dog(dog)
    add_sessions(first, 0, sessions, roster)
    catalogs = [SessionCatalog(one) for one in logs]
    catalogs[0].refresh()
    start_share(first, share, "first")
    start_share(second, share, "second")
    many = first.event_count()
    _timed(f"{many} events given out", many, lambda: share_now(catalogs[0]))
    watch = cProfile.Profile()
    if profile is not None:
        watch.enable()
    _timed(f"{many} events taken in", many, lambda: share_now(catalogs[1]))
    if profile is not None:
        watch.disable()
        watch.dump_stats(profile)
    assert second.event_count() == many
    start = time.perf_counter()
    catalogs[0].rebuild()
    print(f"of that deriving is {time.perf_counter() - start:.1f} s (a log derived anew)")
    add_sessions(first, sessions, 4, roster)
    chance = random.Random(1)
    for old in chance.sample(first.recordings(), min(10, sessions)):
        correct(first, old.id, chance, 2)
    new = first.event_count() - many
    _timed(f"a day, {new} events, given out", new, lambda: share_now(catalogs[0]))
    _timed(f"a day, {new} events, taken in", new, lambda: share_now(catalogs[1]))
    _timed("nothing new", 0, lambda: share_now(catalogs[1]))
    print(f"at most {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")
    for one in logs:
        one.close()


def _timed(what: str, many: int, work: Callable[[], object]) -> None:
    start, busy = time.perf_counter(), time.process_time()
    work()
    took, busy = time.perf_counter() - start, time.process_time() - busy
    rate = f", {many / took:.0f} events/s" if many else ""
    print(f"{what}: {took:.1f} s (processor {busy:.1f} s){rate}", flush=True)


def main() -> None:
    """Parse the options and run it."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--sessions", type=int, default=300)
    options.add_argument("--dogs", type=int, default=20)
    options.add_argument("--profile", type=Path)
    chosen = options.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        measure(Path(folder), chosen.sessions, chosen.dogs, chosen.profile)


if __name__ == "__main__":
    main()
