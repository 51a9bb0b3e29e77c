"""How long a verdict takes once an utterance has ended, live.

    taskset -c 0 python -m tests.bench.latency --split test --condition clean --count 3

feeds recordings to the ear as a microphone does and takes, for each segment, the time from its
end being noticed (some half second of silence has then passed) to its verdict: on the clock, as
long as nothing else runs, and in CPU of the ear and its helpers, which a busy machine does not
change. A verdict that is not sure waits for what may join it; such are listed apart. --fast
feeds without waiting, so only CPU means anything.
"""

from __future__ import annotations

import argparse
import json
import queue
import time
from collections.abc import Sequence
from dataclasses import fields
from pathlib import Path
from typing import Any

import numpy as np
import soundfile as sf

from tests.bench.heard import cpu_s, roster_of
from tests.bench.voices import RATE, data_dir
from voicelog.field.ear import Ear, EarOrder, Message

BLOCK = RATE // 10  # samples, 0.1 s


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("--split", default="test")
    parser.add_argument("--condition", default="clean")
    parser.add_argument("--listener", default="both")
    parser.add_argument("--count", type=int, default=3, help="recordings (3)")
    parser.add_argument("--fast", action="store_true")
    parser.add_argument("--data", type=Path, default=data_dir())
    asked = parser.parse_args()
    found: list[tuple[str, float, float]] = []
    for path in sorted((asked.data / asked.split / asked.condition).glob("*.json"))[: asked.count]:
        found += delays(path, asked.listener, fast=asked.fast)
    for status in ("accepted", "doubtful", "rejected"):
        wall = [clock for which, clock, _ in found if which == status]
        busy = [cpu for which, _, cpu in found if which == status]
        print(f"{status:9} {len(wall):4}  clock {spread(wall)}  cpu {spread(busy)}")
    print(f"all       {len(found):4}  cpu {spread([cpu for _, _, cpu in found])}")


def spread(times: Sequence[float]) -> str:
    if not times:
        return "-"
    middle, late, most = np.percentile(times, (50, 95, 100)) * 1000
    return f"median {middle:.0f} ms, p95 {late:.0f} ms, most {most:.0f} ms"


def delays(path: Path, listener: str, *, fast: bool) -> list[tuple[str, float, float]]:
    """(status, clock s, CPU s) from the end of each segment to the verdict that followed."""
    truth = json.loads(path.read_text())
    known: dict[str, Any] = {"roster": roster_of(truth), "recording": "bench"}
    if "listener" in {field.name for field in fields(EarOrder)}:
        known["listener"] = listener
    elif listener != "quick":
        raise SystemExit(f"the ear has no {listener} listener yet")
    told: queue.SimpleQueue[tuple[float, float, Message]] = queue.SimpleQueue()
    ear = Ear(
        EarOrder(**known),
        lambda message: told.put((time.perf_counter(), cpu_s(own=False), message)),
    )
    try:
        first = told.get(timeout=120)[2]
        if first[0] != "ready":
            raise SystemExit(f"the ear could not begin: {first[1]}")
        samples, _ = sf.read(path.with_suffix(".flac"), dtype="int16")
        begun = time.perf_counter()
        for at in range(0, len(samples), BLOCK):
            ear.feed(samples[at : at + BLOCK])
            if not fast:
                time.sleep(max(0.0, begun + (at + BLOCK) / RATE - time.perf_counter()))
        ear.finish()
        return list(_paired(told))
    finally:
        ear.close()


def _paired(
    told: queue.SimpleQueue[tuple[float, float, Message]],
) -> list[tuple[str, float, float]]:
    found, ended = [], (0.0, 0.0)
    while True:
        clock, cpu, (what, about) = told.get(timeout=300)
        if what == "talking" and not about:
            ended = (clock, cpu)
        elif what == "heard" and ended[0]:
            found.append((about[2].status, clock - ended[0], cpu - ended[1]))
        elif what in ("end", "gone", "failed"):
            return found


if __name__ == "__main__":
    main()
