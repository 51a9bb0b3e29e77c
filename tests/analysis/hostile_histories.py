"""Random histories of a dog that try to push the limits of a plan up, and what is allowed at most.

Ordinary work around one level is mixed with whatever might buy a higher limit: odd entries, presses
that nobody answered, the other mode, another drill, ladders that were rolled back, levels that the
dial lacks, other transmitters in between, one whose top was not given, reps to check or void, days
not known or after today, long pauses, strong signs. The same seed gives the same history.

`allowed_start` says by its own count what the start may be at most: the lowest level answered in at
least three reps of the last sessions of that mode and drill, else the lowest there is.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any, NamedTuple

from tests.analysis.dogs import FIRST, UNIT, rep, session_digest
from voicelog.analysis.criteria import Criteria
from voicelog.analysis.plan import Plan
from voicelog.analysis.session_digest import RepDigest, SessionDigest, by_date
from voicelog.model import Dog, Transmitter
from voicelog.model.dial import step_down
from voicelog.model.domain import DISTRACTION_LADDER

FINE = Transmitter(top=100)
UNITS = (UNIT,) * 12 + (FINE, Transmitter(), UNIT.model_copy(update={"cutoff_s": 8.0}))
STATES = ("sure",) * 8 + ("check", "void")
OUTCOMES = ("complied",) * 6 + ("slow", "ignored", "ignored", "helped", "left", None)


class HostileHistory(NamedTuple):
    """A dog, its sessions, and the day on which its plan is asked for."""

    dog: Dog
    sessions: tuple[SessionDigest, ...]
    today: date | None


def hostile_history(seed: int) -> HostileHistory:
    """The history of a seed."""
    chance = random.Random(seed)
    dog = Dog(
        name="Juno",
        transmitter=chance.choice([UNIT, UNIT, UNIT, FINE]),
        default_mode=chance.choice(["continuous", "momentary"]),
        ceiling=chance.choice([None, None, None, chance.randint(1, 20)]),
    )
    usual = chance.randint(1, 8)
    tidy = chance.random() < 0.6  # mostly ordinary work, so that there is evidence to attack
    at = FIRST
    found = []
    odd_unit = 0.05 if tidy else 0.3
    pauses = [0, 1, 1, 2, 3, 7] if tidy else [0, 1, 7, 40, 300]
    for number in range(chance.choice([0, 1, 2, 3, 5, 8, 13, 24])):
        unit = chance.choice(UNITS) if chance.random() < odd_unit else dog.transmitter
        many = chance.choice([0, 1, 3, 6, 10])
        reps = [_rep(chance, n + 1, dog, usual, tidy) for n in range(many)]
        found.append(
            session_digest(
                reps,
                number,
                began=None if chance.random() < 0.04 else at,
                transmitter=unit,
                ceiling=dog.ceiling if chance.random() < 0.9 else chance.randint(1, 20),
            )
        )
        at += timedelta(days=chance.choice(pauses), minutes=30)
        usual = max(1, usual + chance.choice([-1, 0, 0, 0, 1] if tidy else [-1, 0, 1, 6]))
    today = (at + timedelta(days=chance.choice([0, 1, 15, 60] if tidy else [-400, -3, 900]))).date()
    return HostileHistory(dog, tuple(found), chance.choice([today, today, today, None]))


def _rep(chance: random.Random, number: int, dog: Dog, usual: int, tidy: bool) -> RepDigest:
    other = "momentary" if dog.default_mode == "continuous" else "continuous"
    mode = chance.choice([dog.default_mode] * 7 + [other, "none", "vibrate", "unknown"])
    levels: list[int] = []
    if mode in ("momentary", "continuous"):
        levels = [max(0, usual + chance.choice([-1, 0, 0, 0, 0, 1]))]
        if chance.random() < (0.08 if tidy else 0.3):  # an odd entry, a ladder, a roll back
            levels = [chance.randint(0, 30) for _ in range(chance.randint(1, 3))]
    signs: list[Any] = []
    if levels and chance.random() < (0.003 if tidy else 0.02):
        signs.append(("yelped", "strong", chance.choice([*levels, None])))
    return rep(
        number,
        mode,
        levels,
        chance.choice(OUTCOMES),
        signs,
        state=chance.choice(STATES),
        mixed=len(levels) > 1 and chance.random() < 0.2,
        stress=bool(signs) or chance.random() < 0.1,
        drill=chance.choice(["recall"] * 9 + ["place", "find level", None]),
        distraction=chance.choice([*DISTRACTION_LADDER, "none", "none", "low", None]),
    )


def allowed_start(history: HostileHistory, mode: str, criteria: Criteria) -> int:
    """The highest start that evidence, ceiling and dial allow in a mode."""
    dog, sessions, _ = history
    unit = dog.transmitter

    def worked(one: RepDigest) -> bool:
        here = one.drill == "recall" and one.mode == mode and bool(one.levels)
        return here and one.state == "sure" and one.came

    own = [s for s in by_date(sessions) if s.transmitter == unit and any(map(worked, s.reps))]
    levels = Counter(
        max(one.levels)
        for s in own[-criteria.look_back :]
        for one in s.reps
        if worked(one) and unit.lowest <= max(one.levels) <= unit.highest
    )
    often = [level for level, many in levels.items() if many >= criteria.answered_reps]
    return max(unit.lowest, min([*([min(often)] if often else [unit.lowest]), *_ceilings(history)]))


def _ceilings(history: HostileHistory) -> list[int]:
    """What no limit may pass: a step under each strong sign on this dial, and the profile's."""
    dog, sessions, _ = history
    unit = dog.transmitter
    found = [] if dog.ceiling is None else [dog.ceiling]
    for one in sessions:
        if one.transmitter.top not in (unit.top, None):
            continue
        for each in one.reps:
            if each.state != "void":
                levels = [s.level or max(each.levels) for s in each.signs if s.class_ == "strong"]
                found += [level - step_down(unit, level) for level in levels]
    return found


def plan_faults(history: HostileHistory, one: Plan, criteria: Criteria) -> list[str]:
    """What a plan may not say of its history; empty when all is well."""
    if one.start is None or one.most is None or one.mode is None:
        return ["a level without a button"] if one.start != one.most or one.button else []
    found = []
    unit: Transmitter = history.dog.transmitter
    if one.start > allowed_start(history, one.mode, criteria):
        found.append("the start is above the evidence or the ceiling")
    if any(one.most > cap for cap in _ceilings(history)):
        found.append("the cap is above a ceiling")
    if not unit.lowest <= one.start <= one.most <= unit.highest:
        found.append("the limits are out of order or off the dial")
    if _newest_is_other(history) and one.start != unit.lowest:
        found.append("levels of another transmitter were taken over")
    return found


def _newest_is_other(history: HostileHistory) -> bool:
    ordered: Sequence[SessionDigest] = by_date(history.sessions)
    return bool(ordered) and ordered[-1].transmitter != history.dog.transmitter
