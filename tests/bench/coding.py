"""How far two people agree who coded one session: Cohen's kappa, rep by rep.

    voicelog read --typed anna.txt --dog Bracken --format json > anna.json
    voicelog read --typed joe.txt --dog Bracken --format json > joe.json
    python -m tests.bench.coding anna.json joe.json

Each document is of one recording as one person has it. A rep of the one is matched with the rep of
the other that overlaps it longest; a rep that the other has not counts as "no rep" there. Compared
are the outcome, the button (none, used, not said) and the heaviest class of sign. What a log says
can be no truer than two people who watched agree.
"""

from __future__ import annotations

import argparse
import json
import math
import sys
from collections import Counter, defaultdict
from collections.abc import Hashable, Mapping, Sequence
from pathlib import Path
from typing import Any, NamedTuple

NO_REP = "no rep"
FEW = 30
"""Reps below which the large-sample interval would be too narrow (common practice)."""

COMPARED = ("outcome", "button", "sign")


class Kappa(NamedTuple):
    """Agreement of two people over `of` things: observed, expected by chance, and kappa with its
    standard error, both None where chance alone would agree always."""

    of: int
    observed: float
    expected: float
    kappa: float | None
    error: float | None


def cohens_kappa(pairs: Sequence[tuple[Hashable, Hashable]]) -> Kappa:
    """Kappa of what each of two people said of the same things:

        (observed - expected) / (1 - expected),   expected = sum over categories of p_i. p_.i

    (J. Cohen, Educ. Psychol. Meas. 20 (1960) 37-46), with the large-sample standard error of J. L.
    Fleiss, J. Cohen and B. S. Everitt, Psychol. Bull. 72 (1969) 323-327. Raises ValueError without
    any.
    """
    of = len(pairs)
    if of == 0:
        raise ValueError("nothing that both have said something of")
    cells = {pair: count / of for pair, count in Counter(pairs).items()}
    first, second = defaultdict[Hashable, float](float), defaultdict[Hashable, float](float)
    for (one, other), share in cells.items():
        first[one] += share
        second[other] += share
    observed = math.fsum(share for (one, other), share in cells.items() if one == other)
    expected = math.fsum(first[name] * second[name] for name in {*first, *second})
    if expected >= 1 - 1e-12:
        return Kappa(of, observed, expected, None, None)
    missed = 1 - observed
    spread = math.fsum(
        share * ((1 - expected) - (first[one] + second[one]) * missed) ** 2
        if one == other
        else share * (missed * (second[one] + first[other])) ** 2
        for (one, other), share in cells.items()
    )
    spread -= (observed * expected - 2 * expected + observed) ** 2
    error = math.sqrt(max(0.0, spread) / of) / (1 - expected) ** 2
    return Kappa(of, observed, expected, (observed - expected) / (1 - expected), error)


def coded(rep: Mapping[str, Any]) -> dict[str, str]:
    """What one person has of a rep, in the categories that are compared."""
    mode = rep["mode"]
    classes = {mark["class"] for mark in rep["sign_marks"]}
    heaviest = next((one for one in ("strong", "weak", "noticed", "none") if one in classes), "")
    return {
        "outcome": rep["outcome"] or "not said",
        "button": {"none": "none", "unknown": "not said"}.get(mode, "used"),
        "sign": heaviest or "not said",
    }


def matched(
    first: Sequence[Mapping[str, Any]], second: Sequence[Mapping[str, Any]]
) -> list[tuple[Mapping[str, Any] | None, Mapping[str, Any] | None]]:
    """The reps of both in pairs, the longest overlaps first, then those that one alone has."""
    overlaps = sorted(
        (
            (min(a["end_s"], b["end_s"]) - max(a["start_s"], b["start_s"]), i, j)
            for i, a in enumerate(first)
            for j, b in enumerate(second)
        ),
        key=lambda one: (-one[0], one[1], one[2]),
    )
    of_first: dict[int, int] = {}
    taken: set[int] = set()
    for overlap, i, j in overlaps:
        if overlap > 0 and i not in of_first and j not in taken:
            of_first[i] = j
            taken.add(j)
    pairs: list[tuple[Mapping[str, Any] | None, Mapping[str, Any] | None]] = [
        (rep, second[of_first[i]] if i in of_first else None) for i, rep in enumerate(first)
    ]
    return pairs + [(None, rep) for j, rep in enumerate(second) if j not in taken]


def agreement(
    first: Sequence[Mapping[str, Any]], second: Sequence[Mapping[str, Any]]
) -> dict[str, Kappa]:
    """Kappa of each thing compared, over all reps that either has."""
    none = dict.fromkeys(COMPARED, NO_REP)
    pairs = [
        (coded(one) if one else none, coded(other) if other else none)
        for one, other in matched(first, second)
    ]
    return {what: cohens_kappa([(a[what], b[what]) for a, b in pairs]) for what in COMPARED}


def _reps(path: Path) -> list[Mapping[str, Any]]:
    (recording,) = json.loads(path.read_text(encoding="utf-8"))["recordings"]
    return [rep for rep in recording["reps"] if not rep["void"]]


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("first", type=Path)
    parser.add_argument("second", type=Path)
    given = parser.parse_args()
    for what, found in agreement(_reps(given.first), _reps(given.second)).items():
        words = f"{what}: {found.observed:.0%} of {found.of} alike, {found.expected:.0%} by chance"
        if found.kappa is None or found.error is None:
            print(f"{words}; kappa cannot be told")
        elif found.of < FEW:
            print(f"{words}; kappa {found.kappa:.2f} (under {FEW} reps: no interval)")
        else:
            reach = 1.96 * found.error
            low, high = found.kappa - reach, min(1.0, found.kappa + reach)
            print(f"{words}; kappa {found.kappa:.2f} ({low:.2f} to {high:.2f})")
    return 0


if __name__ == "__main__":
    sys.exit(main())
