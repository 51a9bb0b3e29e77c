"""Many random histories of three devices: always one log. What the test does twice, at length.

    python -m tests.bench.share_histories [--first 0] [--count 100]

A seed that does not come to one log is named, and can be run again alone.
"""

from __future__ import annotations

import argparse
import tempfile
from pathlib import Path

from tests.store.share.kennel import converge, view
from tests.store.share.test_always_one_log import lived, without_the_disk


def main() -> None:
    """Parse the options and run it."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--first", type=int, default=0)
    options.add_argument("--count", type=int, default=100)
    chosen = options.parse_args()
    bad = []
    with without_the_disk():
        for seed in range(chosen.first, chosen.first + chosen.count):
            with tempfile.TemporaryDirectory() as folder:
                devices = lived(Path(folder), seed)
                try:
                    converge(devices)
                    views = [view(one.log) for one in devices]
                    good = views[0] == views[1] == views[2]
                except AssertionError:
                    good = False
                for one in devices:
                    one.log.close()
            if not good:
                bad.append(seed)
                print(f"seed {seed}: not one log", flush=True)
    print(f"{chosen.count} histories, {len(bad)} that did not come to one log")
    raise SystemExit(bool(bad))


if __name__ == "__main__":
    main()
