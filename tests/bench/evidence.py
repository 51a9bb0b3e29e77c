"""Simulation tables: what the papers over weeks may claim, held against dogs of known truth.

    python -m tests.bench.evidence [readiness plan ...] [--many 10000] [--seed 0]

Each name is a table of its own (all without one); the same seed prints the same numbers. It fails
where a table says that a promise is broken.

- readiness: how often a poor dog is called ready in 20 looks, and how soon a good one is.
- rules: the same of the rule that ships beside others that were tried.
- plan: random hostile histories, then a search for worse ones: the start is never above what was
  answered nor above a ceiling.
- change: what is told of a change of calls up the ladder, where there is none and where there is.
- coverage: how often the intervals of a trend and of a share hold the truth, with sessions that
  differ.
- difference: how often a difference of two groups of calls is told where there is none.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Mapping
from typing import NamedTuple

from tests.bench import call_changes, plan_limits, readiness_looks, readiness_rules

__all__ = ["TABLES", "Table"]


class Table(NamedTuple):
    """Its lines, and whether what they promise holds."""

    lines: tuple[str, ...]
    holds: bool


def _plan(many: int, seed: int) -> Table:
    return Table(*plan_limits.table(many, seed))


def _readiness(many: int, seed: int) -> Table:
    return Table(*readiness_looks.table(many, seed))


def _rules(many: int, seed: int) -> Table:
    return Table(*readiness_rules.table(many, seed))


def _change(many: int, seed: int) -> Table:
    return Table(*call_changes.trend_table(many, seed))


def _coverage(many: int, seed: int) -> Table:
    return Table(*call_changes.coverage_table(many, seed))


def _difference(many: int, seed: int) -> Table:
    return Table(*call_changes.difference_table(many, seed))


TABLES: Mapping[str, Callable[[int, int], Table]] = {
    "plan": _plan,
    "readiness": _readiness,
    "rules": _rules,
    "change": _change,
    "coverage": _coverage,
    "difference": _difference,
}
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
