"""How often a dog is called ready that is not, and how soon one that is: tables by simulation.

    python -m tests.bench.evidence readiness [--many 10000] [--seed 0]

Each history is one dog over 20 sessions at one distraction, looked at after each: its chance to
answer a call unaided differs from session to session (a law with the mean and the intraclass
correlation of the table: beta; logit-normal; "runs" is logit-normal with a correlation of 0.5 from
one session to the next), every call of a session is drawn from it, and `calls` are its calls:
always so many, "3-15" a number drawn for each session, "3 to a good one" as many as it takes, from
the third on, to leave off after a good one. `readiness_rules.py` plays other laws and other rules.
The rule is that of the two criteria of readiness that
count calls, points and last calls; the others, which only delay a step, have nothing to say of a
dog without a button or stress.

The promise is that a poor dog (0.6 or less, spread up to 0.2, its days alone or in runs) is called
ready in at most 5% of histories; it holds here where no cell is over that by more than three
standard errors. A spread of 0.2 at a rate of 0.6 is a standard deviation of 0.22 between sessions.
"""

from __future__ import annotations

import math
import random
from collections.abc import Iterator, Sequence
from functools import lru_cache
from statistics import NormalDist, median
from typing import NamedTuple

from voicelog.analysis.criteria import Criteria
from voicelog.analysis.readiness import LOOKS
from voicelog.analysis.statistics.session_evidence import FULL, running_points

BOUND = 0.05
CALLS = ("3", "5", "7", "10", "15", "3-15", "3 to a good one")
SPREADS = (0.0, 0.05, 0.1, 0.2)
POOR_RATES = (0.5, 0.6)
ALIKE = 0.5
"""The correlation from one session to the next where good days come in runs."""
LAWS = {"beta": "each session alone", "runs": "good days in runs"}
RULES = Criteria()
_NORMAL = NormalDist()


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
    return first_look(sessions, [one.total >= FULL for one in points])


def first_look(sessions: Sequence[Sequence[bool]], enough: Sequence[bool]) -> int | None:
    """The first look at which there is enough evidence, and the last calls are good as well."""
    last: list[bool] = []
    for number, (calls, is_enough) in enumerate(zip(sessions, enough, strict=True), start=1):
        last = [*last, *calls][-RULES.ready_of :]
        good = len(last) == RULES.ready_of and sum(last) >= RULES.ready_passes
        if good and is_enough and number >= RULES.ready_sessions:
            return number
    return None


def looked_at(
    runs: int,
    sessions: int,
    rate: float,
    spread: float,
    calls: str,
    seed: int,
    law: str = "beta",
    alike: float = ALIKE,
) -> Looks:
    """So many histories of dogs with one mean rate and spread. `law` is "beta", "logit", or "runs":
    as "logit", but good days come in runs (correlation `alike` from one session to the next)."""
    played = histories(runs, sessions, rate, spread, calls, seed, law, alike)
    found = [at for work in played if (at := first_ready(work)) is not None]
    return Looks(runs, len(found), tuple(found))


def histories(
    runs: int,
    sessions: int,
    rate: float,
    spread: float,
    calls: str,
    seed: int,
    law: str = "beta",
    alike: float = ALIKE,
) -> Iterator[list[list[bool]]]:
    """The calls of the sessions of such dogs. Beside the laws of `looked_at` there are days of two
    kinds: "two" of equal number where both chances are below 1, "perfect" where every call of the
    good days is answered; "two runs" and "perfect runs" where they come in runs."""
    chance = random.Random(f"{seed} {rate} {spread} {calls} {law}")
    kind = law.removesuffix(" runs")
    wide = _logit_width(rate, spread) if kind in ("logit", "runs") else 0.0
    alike = alike if law.endswith("runs") else 0.0
    for _ in range(runs):
        work = []
        lean = 0.0 if kind == "beta" else chance.gauss()
        for _ in range(sessions):
            today = rate
            if kind != "beta":
                lean = alike * lean + math.sqrt(1 - alike**2) * chance.gauss()
                if wide or not spread:
                    today = _logistic(wide * lean + _logit_middle(rate, wide))
                else:
                    today = _of_two(kind, lean, rate, spread)
            elif spread > 0:
                weight = (1 - spread) / spread
                today = chance.betavariate(rate * weight, (1 - rate) * weight)
            work.append(_session(chance, today, calls))
        yield work


def _of_two(kind: str, lean: float, rate: float, spread: float) -> float:
    """The chance of a good or a bad day, with the mean and the variance of the other laws."""
    variance = spread * rate * (1 - rate)
    good = 1.0 if kind == "perfect" else min(1.0, rate + math.sqrt(variance))
    bad = rate - variance / (good - rate)
    return good if _NORMAL.cdf(lean) < (rate - bad) / (good - bad) else bad


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


def table(many: int, seed: int) -> tuple[tuple[str, ...], bool]:
    """The lines of `many` histories for each cell (a quarter of them for good dogs), and whether
    the promise holds."""
    lines, holds = [f"called ready at some of {LOOKS} looks, by spread between sessions"], True
    for law, what in LAWS.items():
        lines += [what, f"{'rate':>5}  {'calls':<16}" + "".join(f"{one:>8g}" for one in SPREADS)]
        for rate in POOR_RATES:
            for calls in CALLS:
                cells = [
                    looked_at(many, LOOKS, rate, spread, calls, seed, law) for spread in SPREADS
                ]
                holds &= all(one.share <= allowed(many) for one in cells)
                words = "".join(f"{one.share:>8.1%}" for one in cells)
                lines.append(f"{rate:>5}  {calls:<16}{words}")
    lines.append("beyond the promise, 3-15 calls: wider, longer runs, dogs between poor and good")
    for rate, spread, law, alike in (
        (0.6, 0.25, "beta", 0.0), (0.6, 0.3, "beta", 0.0), (0.6, 0.2, "logit", 0.0),
        (0.6, 0.3, "runs", 0.5), (0.6, 0.1, "runs", 0.8), (0.6, 0.2, "runs", 0.7),
        (0.6, 0.2, "runs", 0.8),
        (0.65, 0.1, "beta", 0.0), (0.7, 0.1, "beta", 0.0), (0.75, 0.1, "beta", 0.0),
        (0.8, 0.1, "beta", 0.0),
    ):  # fmt: skip
        found = looked_at(many, LOOKS, rate, spread, "3-15", seed, law, alike)
        days = f", correlation {alike:g}" if alike else ""
        lines.append(f"{rate:>5g}, spread {spread:g}, {law}{days}: {found.share:.1%}")
    lines.append("good dogs: ready within the looks, and the median number of sessions to it")
    for law, what in LAWS.items():
        head = "".join(f"{one:>13g}" for one in SPREADS)
        lines += [what, f"{'rate':>5}  {'calls':<16}{head}"]
        for rate in (0.85, 0.9, 0.95):
            for calls in CALLS:
                cells = [
                    looked_at(many // 4, LOOKS, rate, spread, calls, seed, law)
                    for spread in SPREADS
                ]
                words = "".join(f"{f'{one.share:.1%} / {one.middle}':>13}" for one in cells)
                lines.append(f"{rate:>5}  {calls:<16}{words}")
    return tuple(lines), holds
