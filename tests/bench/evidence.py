"""Simulation tables: what the papers over weeks may claim, held against dogs of known truth.

    python -m tests.bench.evidence [plan ...] [--many 10000] [--seed 0]

Each name is a table of its own (all without one); the same seed prints the same numbers. It fails
where a table says that a promise is broken.

- plan: random hostile histories, then a search for worse ones: the start is never above what was
  answered nor above a ceiling.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Mapping
from typing import NamedTuple

from tests.bench import plan_limits

__all__ = ["TABLES", "Table"]


class Table(NamedTuple):
    """Its lines, and whether what they promise holds."""

    lines: tuple[str, ...]
    holds: bool


def _plan(many: int, seed: int) -> Table:
    return Table(*plan_limits.table(many, seed))


TABLES: Mapping[str, Callable[[int, int], Table]] = {"plan": _plan}
"""What makes each table of how many runs and a seed."""


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("tables", nargs="*", choices=[[], *TABLES], metavar="TABLE")
    parser.add_argument("--many", type=int, default=10_000, help="runs of a table")
    parser.add_argument("--seed", type=int, default=0)
    given = parser.parse_args()
    broken = []
    for name in given.tables or TABLES:
        made = TABLES[name](given.many, given.seed)
        print(f"{name}, {given.many} runs, seed {given.seed}", *made.lines, sep="\n  ")
        if not made.holds:
            broken.append(name)
    if broken:
        print(f"broken: {', '.join(broken)}")
    return 1 if broken else 0


if __name__ == "__main__":
    sys.exit(main())
