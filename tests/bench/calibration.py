"""Does a confidence mean what it says? Reliability and expected calibration error of what is kept.

    python -m tests.bench.calibration --split test --condition clean pink10 people people-kitchen12

Judges what is kept (recognition.py hears it) and hears nothing. Entries over what was said are laid
into bins by their confidence (finer near 1, where it is decided what is sure). Of each bin it
prints how many there are, their mean confidence, and the share whose first reading is right. The
expected calibration error (Naeini, Cooper and Hauskrecht, AAAI 2015) is the mean over all entries
of how far those two lie apart in their bin. It is told for machines and people, in quiet and in
noise, and by kind of note. Rejected entries are left out.
"""

from __future__ import annotations

import argparse
import json
from collections import defaultdict
from collections.abc import Iterator, Sequence
from itertools import pairwise
from pathlib import Path

import numpy as np

from tests.bench.heard import LISTENERS, hear, kept_at
from tests.bench.risk import JudgedEntry, judged_entries
from tests.bench.voices import data_dir

__all__ = ["EDGES", "calibration_error", "reliability"]

EDGES = (0.0, 0.5, 0.7, 0.8, 0.9, 0.945, 0.97, 0.985, 0.995, 1.0)


def reliability(entries: Sequence[JudgedEntry]) -> Iterator[tuple[int, float, float]]:
    """Of each bin that holds any: how many, their mean confidence, the share right (0 to 1)."""
    for low, high in pairwise(EDGES):
        last = high == EDGES[-1]
        some = [one for one in entries if low <= one.confidence < high or (last and one[0] == high)]
        if some:
            yield (
                len(some),
                float(np.mean([one.confidence for one in some])),
                float(np.mean([one.right for one in some])),
            )


def calibration_error(entries: Sequence[JudgedEntry]) -> float:
    """The expected calibration error, 0 to 1; 0 of no entries."""
    bins = list(reliability(entries))
    return sum(count * abs(told - right) for count, told, right in bins) / max(1, len(entries))


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("--split", default="test")
    parser.add_argument("--condition", nargs="+", default=["clean"])
    parser.add_argument("--listener", choices=LISTENERS, default="both")
    parser.add_argument("--run", help="name to keep under (default: hash of the code that hears)")
    parser.add_argument("--data", type=Path, default=data_dir())
    asked = parser.parse_args()
    groups: dict[str, list[JudgedEntry]] = defaultdict(list)
    for condition in asked.condition:
        for path in sorted((asked.data / asked.split / condition).glob("*.json")):
            kept = kept_at(asked.data / "heard", asked.run, asked.listener, path)
            heard = hear(path, asked.listener, kept, patience_s=0, only_kept=True)
            if heard is None:
                continue
            truth = json.loads(path.read_text())
            who = "people" if truth["engine"] == "human" else "machines"
            quiet = condition in ("clean", "people", "words", "digits", "within", "beyond")
            for one in judged_entries(truth, heard):
                for name in ("all", f"{who}, {'quiet' if quiet else 'noise'}", one.kind):
                    groups[name].append(one)
    for name, entries in sorted(groups.items()):
        print(f"\n{name}: {len(entries)} entries, error {calibration_error(entries):.3f}")
        for count, told, right in reliability(entries):
            print(f"  told {told:.3f}  right {right:.3f}  of {count:5}  {'#' * round(40 * right)}")


if __name__ == "__main__":
    main()
