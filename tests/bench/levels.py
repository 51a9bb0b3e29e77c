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
the dog has answered with the chance 0.5 (or 0.8), between dial levels read on the logit scale. An
interval covers it when the truth lies inside, an end beyond the levels tried being open. The
bias is over estimates within the levels tried; "beyond" counts those that only say above or
below. Every dog has 100 reps; the first 6, 12, ... are estimated.
"""

from __future__ import annotations

import argparse
import time
from statistics import NormalDist
from typing import NamedTuple

import numpy as np

from voicelog.analysis.threshold import Curve, Walk, fit_levels

COUNTS = (6, 12, 20, 30, 50, 100)
CHANCES = (0.5, 0.8)
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


FIELDS = (
    Field("a moment for each rep, no stress"),
    Field("a moment for each rep, stress 0.05", stress=0.05),
    Field("a moment for each rep, stress 0.20", stress=0.20),
    Field("dependence 0.5 to 1, stress 0.05", dependence=(0.5, 1.0), stress=0.05),
    Field("presses independent, from the lowest", dependence=(0.0, 0.0), starts=(0,)),
    Field("presses independent, rolled back", dependence=(0.0, 0.0), starts=(1, 2)),
    Field("days differ by 0.5 step", day=0.5),
)


class Dog(NamedTuple):
    middle: float
    spread: float
    dependence: float


def walk(dog: Dog, field: Field, chance: np.random.Generator) -> list[Walk]:
    """The dog's reps."""
    reps = max(COUNTS)
    rep = chance.normal(size=(reps, 1)) * np.sqrt(dog.dependence)
    press = chance.normal(size=(reps, TOP)) * np.sqrt(1 - dog.dependence)
    days = np.repeat(chance.normal(size=-(-reps // 8)), 8)[:reps] * field.day
    needed = dog.middle + days[:, None] + dog.spread * (rep + press)
    signs = chance.random(size=(reps, TOP))
    under = int(chance.choice(field.starts))
    ceiling, start = TOP, 1
    walks = []
    for at in range(reps):
        ignored = answered = None
        for level in range(min(start, ceiling), ceiling + 1):
            if needed[at, level - 1] <= level:
                answered = level
                break
            ignored = level
            risk = field.stress * max(0.5, level - dog.middle)
            if signs[at, level - 1] < risk and level > 2:
                ceiling = level - 1
                break
        walks.append(Walk(ignored, answered))
        if under:
            start = max(1, (answered or ceiling) - under)
    return walks


def truth(dog: Dog) -> list[float]:
    """The levels by which the dog has answered with each chance, walked up from the lowest."""
    levels = np.arange(-20, TOP + 21)
    if dog.dependence == 1:
        return [dog.middle + dog.spread * NormalDist().inv_cdf(p) for p in CHANCES]
    nodes, weights = np.polynomial.hermite_e.hermegauss(60)
    rep = dog.spread * np.sqrt(dog.dependence) * nodes
    z = (levels[:, None] - dog.middle - rep) / (dog.spread * np.sqrt(1 - dog.dependence))
    ignore = 1 - np.vectorize(NormalDist().cdf)(z)
    left = np.cumprod(ignore[levels >= 1], axis=0) @ (weights / weights.sum())
    done = np.clip(1 - left, 1e-12, 1 - 1e-12)
    logit = np.log(done / (1 - done))
    keep = np.concatenate(([True], np.diff(logit) > 1e-9))
    return [
        float(np.interp(np.log(p / (1 - p)), logit[keep], levels[levels >= 1][keep]))
        for p in CHANCES
    ]


def measure(field: Field, dogs: int, seed: int) -> None:
    """Print one table."""
    chance = np.random.default_rng(seed)
    tally = {(n, p): [] for n in COUNTS for p in CHANCES}
    refused = dict.fromkeys(COUNTS, 0)
    why = ""
    began = time.perf_counter()
    for _ in range(dogs):
        dog = Dog(chance.uniform(3, 9), chance.uniform(0.4, 2.0), chance.uniform(*field.dependence))
        walks = walk(dog, field, chance)
        true = truth(dog)
        for n in COUNTS:
            curve = fit_levels(walks[:n], CHANCES, sittings=[at // 8 for at in range(n)])
            if not isinstance(curve, Curve):
                refused[n] += 1
                why = why or curve.why
                continue
            for level, at in zip(curve.levels, true, strict=True):
                covered = (level.low is None or level.low <= at) and (
                    level.high is None or at <= level.high
                )
                width = (level.high or np.nan) - (level.low or np.nan)
                error = np.nan if level.value is None else level.value - at
                tally[n, level.chance].append((covered, error, width))
    print(f"\n{field.name}: {dogs} dogs, {time.perf_counter() - began:.0f} s")
    print("reps  no number | chance  coverage  bias  error  width  beyond")
    for n in COUNTS:
        for p in CHANCES:
            rows = np.array(tally[n, p], dtype=float).reshape(-1, 3)
            head = f"{n:4}  {100 * refused[n] / dogs:8.1f}%" if p == CHANCES[0] else " " * 15
            if not len(rows):
                print(f"{head} | {p:6}  not enough yet")
                continue
            error = rows[:, 1][~np.isnan(rows[:, 1])]
            print(
                f"{head} | {p:6}  {100 * rows[:, 0].mean():7.1f}%  {error.mean():+.2f}"
                f"   {np.sqrt((error**2).mean()):.2f}   {np.nanmedian(rows[:, 2]):.2f}"
                f"  {100 * (1 - len(error) / len(rows)):5.1f}%"
            )
    print(f"at 6 reps: {why}")


def main() -> None:
    options = argparse.ArgumentParser(description="Coverage and bias of the levels given.")
    options.add_argument("--dogs", type=int, default=4000)
    options.add_argument("--only", default="", help="tables whose name holds this")
    options.add_argument("--seed", type=int, default=1)
    given = options.parse_args()
    for field in FIELDS:
        if given.only in field.name:
            measure(field, given.dogs, given.seed)


if __name__ == "__main__":
    main()
