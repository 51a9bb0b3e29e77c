"""How often a dog is called ready that is not, and how soon one that is: tables by simulation.

    python -m tests.bench.evidence [--runs 4000] [--seed 1] [--sessions 20]

Each history is one dog over so many sessions at one distraction, looked at after each: its chance
to answer a call unaided differs from session to session (beta law with the mean and the intraclass
correlation of the table; logit-normal too), every call of a session is drawn from it, and `calls`
are its calls: always so many, "3-15" a number drawn for each session, "3 to a good one" as many as
it takes, from the third on, to leave off after a good one. The rule is that of the two criteria of
readiness that count calls, points and last calls; the others, which only delay a step, have nothing
to say of a dog without a button or stress. Needs no bench data. Fails if a poor dog (0.6 or less,
spread up to 0.2) is called ready in more than 5% of histories, give or take three standard errors.
"""

from __future__ import annotations

import argparse
import math
import random
import sys
from collections.abc import Sequence
from functools import lru_cache
from statistics import median
from typing import NamedTuple

from voicelog.analysis.criteria import Criteria
from voicelog.analysis.statistics.session_evidence import FULL, running_points

BOUND = 0.05
CALLS = ("3", "5", "8", "10", "15", "3-15", "3 to a good one")
SPREADS = (0.0, 0.05, 0.1, 0.2)
POOR_RATES = (0.5, 0.6)
RULES = Criteria()


class Looks(NamedTuple):
    """Of `runs` histories those called ready at some look, and after how many sessions each was."""

    runs: int
    ready: int
    sessions: tuple[int, ...]

    @property
    def share(self) -> float:
        """How many of all were called ready (0 to 1)."""
        return self.ready / self.runs

    @property
    def middle(self) -> str:
        """The median number of sessions, those never ready counting as longer than any."""
        never = [math.inf] * (self.runs - self.ready)
        middle = median([*self.sessions, *never])
        return "-" if math.isinf(middle) else f"{middle:g}"


def first_ready(sessions: Sequence[Sequence[bool]]) -> int | None:
    """The first look (from 1) at which a dog with these calls is ready; None where it never is."""
    points = running_points([(sum(calls), len(calls)) for calls in sessions])
    last: list[bool] = []
    for number, (calls, enough) in enumerate(zip(sessions, points, strict=True), start=1):
        last = [*last, *calls][-RULES.ready_of :]
        good = len(last) == RULES.ready_of and sum(last) >= RULES.ready_passes
        if good and enough >= FULL and number >= RULES.ready_sessions:
            return number
    return None


def looked_at(
    runs: int, sessions: int, rate: float, spread: float, calls: str, seed: int, law: str = "beta"
) -> Looks:
    """So many histories of dogs with one mean rate and spread."""
    chance = random.Random(f"{seed} {rate} {spread} {calls} {law}")
    wide = _logit_width(rate, spread) if law == "logit" else 0.0
    found = []
    for _ in range(runs):
        work = []
        for _ in range(sessions):
            today = rate
            if law == "logit":
                today = _logistic(wide * chance.gauss() + _logit_middle(rate, wide))
            elif spread > 0:
                weight = (1 - spread) / spread
                today = chance.betavariate(rate * weight, (1 - rate) * weight)
            work.append(_session(chance, today, calls))
        at = first_ready(work)
        if at is not None:
            found.append(at)
    return Looks(runs, len(found), tuple(found))


def false_ready(
    runs: int, sessions: int, seed: int, rates: Sequence[float] = POOR_RATES
) -> list[tuple[float, float, str, Looks]]:
    """A poor dog's table: rate, spread, calls, and how often it was called ready."""
    return [
        (rate, spread, calls, looked_at(runs, sessions, rate, spread, calls, seed))
        for rate in rates
        for calls in CALLS
        for spread in SPREADS
    ]


def allowed(runs: int) -> float:
    """The share that so many histories may show where the bound holds: three standard errors."""
    return BOUND + 3 * math.sqrt(BOUND * (1 - BOUND) / runs)


def _session(chance: random.Random, rate: float, calls: str) -> list[bool]:
    if calls == "3 to a good one":
        made = [chance.random() < rate for _ in range(3)]
        while not made[-1] and len(made) < 15:
            made.append(chance.random() < rate)
        return made
    many = chance.randint(3, 15) if calls == "3-15" else int(calls)
    return [chance.random() < rate for _ in range(many)]


def _logistic(at: float) -> float:
    return 1 / (1 + math.exp(-at))


_NODES = [-3 + 0.1 * step for step in range(61)]
_WEIGHTS = [math.exp(-node * node / 2) for node in _NODES]


def _mean(middle: float, wide: float, power: int = 1) -> float:
    total = sum(
        weight * _logistic(middle + wide * node) ** power
        for node, weight in zip(_NODES, _WEIGHTS, strict=True)
    )
    return total / sum(_WEIGHTS)


@lru_cache
def _logit_middle(rate: float, wide: float) -> float:
    """The middle of a logit-normal law of this width whose mean is `rate`."""
    low, high = -20.0, 20.0
    while high - low > 1e-6:
        middle = (low + high) / 2
        low, high = (middle, high) if _mean(middle, wide) < rate else (low, middle)
    return low


@lru_cache
def _logit_width(rate: float, spread: float) -> float:
    """The width at which the variance between sessions is `spread * rate * (1 - rate)`."""
    low, high = 0.0, 10.0
    while high - low > 1e-5:
        wide = (low + high) / 2
        variance = _mean(_logit_middle(rate, wide), wide, 2) - rate**2
        low, high = (wide, high) if variance < spread * rate * (1 - rate) else (low, wide)
    return low


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--runs", type=int, default=4000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--sessions", type=int, default=20)
    given = parser.parse_args()
    print(f"{given.runs} histories each, {given.sessions} sessions, a look after each\n")
    print("called ready at some look, %; by spread between sessions (intraclass correlation)")
    heads = "".join(f"{f'{spread:g}':>8}" for spread in SPREADS)
    print(f"{'rate':>5}  {'calls':<16}{heads}")
    wrong = []
    rows = false_ready(given.runs, given.sessions, given.seed)
    for start in range(0, len(rows), len(SPREADS)):
        cells = rows[start : start + len(SPREADS)]
        rate, _, calls, _ = cells[0]
        print(f"{rate:>5}  {calls:<16}" + "".join(f"{one[3].share:>8.1%}" for one in cells))
        wrong += [one for one in cells if one[3].share > allowed(given.runs)]
    print("\nbeyond what is promised: wider spreads, another law, a dog at seven in ten or better")
    for rate, spread, law in (
        (0.6, 0.25, "beta"), (0.6, 0.3, "beta"), (0.6, 0.1, "logit"), (0.6, 0.2, "logit"),
        (0.65, 0.1, "beta"), (0.7, 0.1, "beta"), (0.75, 0.1, "beta"), (0.8, 0.1, "beta"),
    ):  # fmt: skip
        found = looked_at(given.runs, given.sessions, rate, spread, "3-15", given.seed, law)
        print(f"  {rate:g}, spread {spread:g}, {law}: {found.share:.1%}")
    print("\ngood dogs: ready within the sessions, %, and the median number of sessions to it")
    print(f"{'rate':>5}  {'calls':<16}" + "".join(f"{f'{spread:g}':>13}" for spread in SPREADS))
    for rate in (0.85, 0.9, 0.95):
        for calls in CALLS:
            cells = ""
            for spread in SPREADS:
                runs = given.runs // 4
                found = looked_at(runs, given.sessions, rate, spread, calls, given.seed)
                cells += f"{f'{found.share:.1%} / {found.middle}':>13}"
            print(f"{rate:>5}  {calls:<16}{cells}")
    for rate, spread, calls, found in wrong:
        print(f"over the bound: {rate:g}, spread {spread:g}, {calls} calls: {found.share:.1%}")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
