"""Logs on several devices and real daemons of a sync program: how long until all hold one log.

    python -m tests.bench.share_daemons [--devices 3] [--sessions 1000]

Every device hears its part of the sessions and corrects some, in batches, and exchanges after each.
Meanwhile one daemon is killed twice and started again, and another is off for the second half. Then
all run, and it is measured how long it takes until every log holds the same. What stands there then
is compared entry by entry. Needs syncthing; everything stays on the loopback.
"""

from __future__ import annotations

import argparse
import random
import resource
import tempfile
import time
from pathlib import Path

from tests.store.share.daemons import PROGRAM, linked, wait_until
from tests.store.share.kennel import DOGS, Device, view
from voicelog.store.share.exchange import heads_of

BATCH = 10


def measure(folder: Path, many: int, sessions: int) -> bool:
    """Run it once; whether all logs came out the same."""
    rng = random.Random(1)
    names = [f"d{number}" for number in range(many)]
    devices = [
        Device(folder, name, year) for name, year in zip(names, range(2020, 2190), strict=False)
    ]
    daemons = linked(folder, names)
    try:
        devices[0].join(make=True)
        for one in devices[1:]:
            wait_until((one.share / "kennel.json").exists, 120)
            one.join()
        began = time.monotonic()
        batches = max(1, sessions // BATCH)
        for number in range(batches):
            one = devices[number % many]
            for sound in range(number * BATCH, (number + 1) * BATCH):
                one.add(sound, number % 3, rng.choice(DOGS))
                one.act(rng)
            one.exchange()
            if number in (batches // 4, batches // 3):
                daemons[0].kill()
                daemons[0].start()
            if number == batches // 2:
                daemons[-1].kill()
        print(f"{sessions} sessions on {many} devices written in {time.monotonic() - began:.1f} s")
        daemons[-1].start()

        def same() -> bool:
            for one, daemon in zip(devices, daemons, strict=True):
                if one.exchange().written:
                    daemon.scan()
            return len({heads_of(one.log) for one in devices}) == 1

        took = wait_until(same, 1200)
        print(f"one log {took:.1f} s after the last daemon came back")
        views = [view(one.log) for one in devices]
        files = sorted((devices[0].share).rglob("*.seg"))
        size = sum(file.stat().st_size for file in files)
        events = sum(map(len, views[0]["events"].values()))
        memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(
            f"{len(files)} files, {size / 1024:.0f} kB, {len(views[0]['rows'])} recordings, "
            f"{events} events, at most {memory:.0f} MB"
        )
        return all(one == views[0] for one in views)
    finally:
        for daemon in daemons:
            daemon.kill()
        for one in devices:
            one.log.close()


def main() -> None:
    """Parse the options and run it."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--devices", type=int, default=3)
    options.add_argument("--sessions", type=int, default=1000)
    chosen = options.parse_args()
    if PROGRAM is None:
        raise SystemExit("Found no syncthing; install it first.")
    with tempfile.TemporaryDirectory() as folder:
        equal = measure(Path(folder), chosen.devices, chosen.sessions)
    print("all logs are the same" if equal else "the logs DIFFER")
    raise SystemExit(not equal)


if __name__ == "__main__":
    main()
