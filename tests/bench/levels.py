"""Whether the levels given for a dog are right, and their intervals as wide as they say.

    nice python -m tests.bench.levels                       # the tables, some minutes
    nice python -m tests.bench.levels --dogs 400            # the same, rougher
    nice python -m tests.bench.levels --only stress

Invented dogs with known truth are walked as a trainer would: from the start level up one step
while the dog ignores it, until it answers, shows a strong sign, or the ceiling is reached; the
next rep starts at the lowest level, or one or two steps under the level last answered. On
each press the dog answers when the level reaches what it needs at that moment:

    needed = middle + spread * (sqrt(d) * rep + sqrt(1 - d) * press),

with a normal draw for the rep and one for the press: d = 1 when a rep's moment decides all
its presses, d = 0 when every press is a new draw. After a press that was ignored, a strong
sign comes with the chance `stress` for each step that the level lies above the middle (half
of it below): the rep ends unanswered, and the ceiling stays one step under that level for good.

The truth is what the estimate claims to be: the level by which, walked up from the lowest,
the dog has answered with the chance 0.5 (or 0.8), between dial levels read on the logit
scale. An interval covers it when the truth lies inside, an end beyond the levels tried being
open. Bias and (root mean square) error, in steps, are over estimates within the levels tried;
"beyond" is the share of dogs of which only "above" or "below" is said, "no number" of those of
which less, and "disagree" how often the middles of the walks are said to disagree with the
curve, where they can be given. Every dog has 100 reps; the first 6, 12, ... are estimated.
"""

from __future__ import annotations

import argparse
import time
from collections import Counter, defaultdict
from statistics import NormalDist
from typing import NamedTuple

import numpy as np

from voicelog.analysis.statistics.logistic_curve import CensoredLevel, LogisticCurve, fit_levels
from voicelog.analysis.statistics.up_down import UpDownEstimate, disagrees, midpoints
from voicelog.report.wording.statistics import unknown_words

COUNTS = (6, 12, 20, 30, 50, 100)
CHANCES = (0.5, 0.8)
SESSION = 8
"""Reps in a session."""
TOP = 20
"""Levels on the dial: 1 to 20, one step each."""


class Field(NamedTuple):
    """The conditions under which dogs are walked."""

    name: str
    dependence: tuple[float, float] = (1.0, 1.0)
    stress: float = 0.0
    starts: tuple[int, ...] = (0, 1, 2)
    """Steps under the level last answered at which a rep starts; 0: at the lowest level."""
    day: float = 0.0
    """Spread in steps between sessions of eight reps each."""
    part: int = 8
    """One in so many of the dogs asked for are walked."""
    by_press: bool = False
    """Estimate as if each press were an observation of its own, to see what that does."""


FIELDS = (
    Field("stress 0", part=1),
    Field("stress 0.05", stress=0.05, part=1),
    Field("stress 0.20", stress=0.20, part=1),
    Field("dependence 0.5 to 1, stress 0.05", dependence=(0.5, 1.0), stress=0.05),
    Field("independent presses, from the lowest", dependence=(0.0, 0.0), starts=(0,)),
    Field("independent presses, rolled back", dependence=(0.0, 0.0), starts=(1, 2)),
    Field("days differ by half a step", day=0.5),
    Field("days differ by a step", day=1.0),
    Field("each press counted by itself", by_press=True),
)


class Dog(NamedTuple):
    middle: float
    spread: float
    dependence: float


class Told(NamedTuple):
    """One rep: the level it started at, and what it says."""

    start: int
    walk: CensoredLevel

    def presses(self) -> list[CensoredLevel]:
        """Each press as if it were a rep."""
        ignored, answered = self.walk
        singles = [CensoredLevel(level, None) for level in range(self.start, int(ignored or 0) + 1)]
        return singles if answered is None else [*singles, CensoredLevel(None, answered)]


def reps_of(dog: Dog, field: Field, chance: np.random.Generator) -> list[Told]:
    """The dog's reps."""
    reps = max(COUNTS)
    rep = chance.normal(size=(reps, 1)) * np.sqrt(dog.dependence)
    press = chance.normal(size=(reps, TOP)) * np.sqrt(1 - dog.dependence)
    days = np.repeat(chance.normal(size=-(-reps // SESSION)), SESSION)[:reps] * field.day
    needed = (dog.middle + days[:, None] + dog.spread * (rep + press)).tolist()
    signs = chance.random(size=(reps, TOP)).tolist()
    under = int(chance.choice(field.starts))
    ceiling, start = TOP, 1
    told = []
    for at in range(reps):
        ignored: int | None = None
        answered: int | None = None
        begin = min(start, ceiling)
        for level in range(begin, ceiling + 1):
            if needed[at][level - 1] <= level:
                answered = level
                break
            ignored = level
            risk = field.stress * max(0.5, level - dog.middle)
            if signs[at][level - 1] < risk and level > 2:
                ceiling = level - 1
                break
        told.append(Told(begin, CensoredLevel(ignored, answered)))
        if under:
            start = max(1, (answered or ceiling) - under)
    return told


def truth(dog: Dog, day: float) -> list[float]:
    """The levels by which the dog has answered with each chance, walked up from the lowest."""
    normal = NormalDist()
    if dog.dependence == 1:
        return [dog.middle + np.hypot(dog.spread, day) * normal.inv_cdf(p) for p in CHANCES]
    levels = np.arange(1, TOP + 1)
    nodes, weights = np.polynomial.hermite_e.hermegauss(60)
    rep = dog.spread * np.sqrt(dog.dependence) * nodes
    z = (levels[:, None] - dog.middle - rep) / (dog.spread * np.sqrt(1 - dog.dependence))
    left = np.cumprod(1 - np.vectorize(normal.cdf)(z), axis=0) @ (weights / weights.sum())
    logit = np.log1p(-np.clip(left, 1e-12, 1 - 1e-12)) - np.log(np.clip(left, 1e-12, 1 - 1e-12))
    rising = np.concatenate(([True], np.diff(logit) > 1e-9))
    return [float(np.interp(np.log(p / (1 - p)), logit[rising], levels[rising])) for p in CHANCES]


def measure(field: Field, dogs: int, seed: int) -> None:
    """Print one table."""
    chance = np.random.default_rng(seed)
    tally: dict[tuple[int, float], list[tuple[bool, float, float]]] = defaultdict(list)
    whys: dict[int, Counter[str]] = defaultdict(Counter)
    beside: dict[int, list[bool]] = defaultdict(list)
    began = time.perf_counter()
    for _ in range(dogs):
        dog = Dog(chance.uniform(3, 9), chance.uniform(0.4, 2.0), chance.uniform(*field.dependence))
        told = reps_of(dog, field, chance)
        true = truth(dog, field.day)
        for n in COUNTS:
            walks = [each.walk for each in told[:n]]
            if field.by_press:
                curve = fit_levels([one for each in told[:n] for one in each.presses()], CHANCES)
            else:
                session_digests = [at // SESSION for at in range(n)]
                curve = fit_levels(walks, CHANCES, session_digests=session_digests)
            if not isinstance(curve, LogisticCurve):
                whys[n][unknown_words(curve)] += 1
                continue
            other = midpoints(walks)
            if isinstance(other, UpDownEstimate):
                beside[n].append(disagrees(curve, other))
            for level, at in zip(curve.levels, true, strict=True):
                low = -np.inf if level.low is None else level.low
                high = np.inf if level.high is None else level.high
                error = np.nan if level.value is None else level.value - at
                tally[n, level.chance].append((low <= at <= high, error, high - low))
    print(f"\n{field.name}: {dogs} dogs, {time.perf_counter() - began:.0f} s")
    print("reps  no number  disagree | chance  coverage   bias  error  width  beyond")
    for n in COUNTS:
        for p in CHANCES:
            head = " " * 25
            if p == CHANCES[0]:
                said = f"{np.mean(beside[n]):8.1%}" if beside[n] else "       -"
                head = f"{n:4}  {whys[n].total() / dogs:8.1%}  {said} "
            if not tally[n, p]:
                print(f"{head} | {p:6}  no number")
                continue
            covered, error, width = np.array(tally[n, p], dtype=float).T
            error = error[~np.isnan(error)]
            print(
                f"{head} | {p:6}  {covered.mean():8.1%}  {error.mean():+.2f}   "
                f"{np.sqrt((error**2).mean()):.2f}   {np.median(width):.2f}"
                f"  {1 - len(error) / len(covered):6.1%}"
            )
    for n in COUNTS[:2]:
        for why, dogs_so in whys[n].most_common(1):
            print(f'at {n} reps, {dogs_so} dogs: "{why}"')


def main() -> None:
    options = argparse.ArgumentParser(description="Coverage and bias of the levels given.")
    options.add_argument("--dogs", type=int, default=4000)
    options.add_argument("--only", default="", help="tables whose name holds this")
    options.add_argument("--seed", type=int, default=1)
    given = options.parse_args()
    for field in FIELDS:
        if given.only in field.name:
            measure(field, -(-given.dogs // field.part), given.seed)


if __name__ == "__main__":
    main()
