"""Kill live sessions at random moments and count what is lost.

python -m tests.bench.field_kills [KILLS [SEED]]

Every other kill falls inside a write: half way through one of sound, or some milliseconds into
a commit of the log. The program is killed; power is not lost. Sound comes five times as fast as in
the field; "sound lost" is in seconds of the recording. A kill costs 1.5 s of CPU.
"""

from __future__ import annotations

import os
import random
import sys
import tempfile
import time
from pathlib import Path

from tests.live.kills import Counts, how_of, kill_one, make_sound


def main(kills: int, seed: int) -> None:
    """Kill so many sessions, and print what it cost."""
    chance, counts = random.Random(seed), Counts()
    began = time.monotonic()
    with tempfile.TemporaryDirectory() as folder:
        sound = make_sound(Path(folder))
        for number in range(kills):
            kill_one(sound, chance, counts, how_of(number))
            if (number + 1) % 20 == 0:
                seconds = time.monotonic() - began
                so_far = f"{counts.lost} of {counts.committed} events lost"
                so_far += f", {counts.completed} sessions completed"
                print(f"... {number + 1} kills, {seconds:.0f} s: {so_far}", flush=True)
    for line in counts.lines():
        print(line)
    load = ", ".join(f"{one:.1f}" for one in os.getloadavg())
    print(f"machine                  {os.cpu_count()} cores, load {load}")


if __name__ == "__main__":
    main(*(int(one) for one in (*sys.argv[1:], *("200", "3")[len(sys.argv) - 1 :])))
