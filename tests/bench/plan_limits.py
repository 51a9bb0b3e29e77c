"""The limits of a plan over random hostile histories, and a search for the worst of them.

The search takes the histories that come nearest to breaking the promise and changes one thing at a
time (a rep's levels, outcome, state, mode, drill or distraction, a session's day, transmitter or
place), keeping what brings the start nearer to, or over, what is allowed.
"""

from __future__ import annotations

import random
from collections import Counter

from tests.analysis.dogs import UNIT
from tests.analysis.hostile_histories import (
    FINE,
    HostileHistory,
    allowed_start,
    hostile_history,
    plan_faults,
)
from voicelog.analysis.criteria import Criteria
from voicelog.analysis.plan import Plan, plan
from voicelog.analysis.session_digest import RepDigest, SessionDigest

RULES = Criteria()
SEARCHED = 40
"""Histories that a search begins from."""
SHOWN = 5
"""Histories that are shown, those nearest to what is allowed."""
CHANGES = 60
"""Changes that are tried on each for every thousand runs."""


def table(many: int, seed: int) -> tuple[tuple[str, ...], bool]:
    """The lines of the table, and whether no plan broke its promise."""
    faults = Counter[str]()
    with_start = at_limit = 0
    near: list[tuple[int, int]] = []
    for number in range(seed, seed + many):
        history = hostile_history(number)
        one = _plan(history)
        faults.update(plan_faults(history, one, RULES))
        room = _room(history, one)
        if room is not None and one.start != history.dog.transmitter.lowest:
            with_start += 1
            at_limit += room == 0
            near.append((room, number))
    tried, worst = 0, 0
    for _, number in sorted(near)[:SEARCHED]:
        steps = CHANGES * max(1, many // 1000)
        room, found = _search(hostile_history(number), random.Random(number), steps)
        tried += steps
        worst = min(worst, room)
        faults.update(found)
    return (
        f"{many} histories: {with_start} plans start above the lowest level, {at_limit} of them "
        "exactly at the highest start allowed",
        f"search for worse: {tried} changes on {min(SEARCHED, len(near))} histories, "
        f"start above what is allowed by at most {-worst}",
        *(f"nearest: {_told(number)}" for _, number in sorted(near)[:SHOWN]),
        *(f"{times} x {why}" for why, times in faults.most_common()),
    ), not faults


def _told(seed: int) -> str:
    """A history in a line: its seed, its size, and what its plan comes to."""
    history = hostile_history(seed)
    one = _plan(history)
    reps = sum(len(each.reps) for each in history.sessions)
    allowed = allowed_start(history, one.mode, RULES) if one.mode else None
    return (
        f"seed {seed}, {len(history.sessions)} sessions, {reps} reps: start {one.start} of "
        f"{allowed} allowed, cap {one.most}"
    )


def _plan(history: HostileHistory) -> Plan:
    return plan(history.sessions, history.dog, RULES, history.today)


def _room(history: HostileHistory, one: Plan) -> int | None:
    """How far the start is under what is allowed."""
    if one.start is None or one.mode is None:
        return None
    return allowed_start(history, one.mode, RULES) - one.start


def _search(history: HostileHistory, chance: random.Random, steps: int) -> tuple[int, Counter[str]]:
    """The least room that was found, and what was broken on the way."""
    best, high = _score(history)
    faults = Counter[str]()
    for _ in range(steps):
        other = _changed(history, chance)
        one = _plan(other)
        faults.update(plan_faults(other, one, RULES))
        room, start = _score(other)
        if (room, -start) <= (best, -high):
            history, best, high = other, room, start
    return best, faults


def _score(history: HostileHistory) -> tuple[int, int]:
    one = _plan(history)
    room = _room(history, one)
    return (99, 0) if room is None else (room, one.start or 0)


def _changed(history: HostileHistory, chance: random.Random) -> HostileHistory:
    sessions = list(history.sessions)
    at = chance.randrange(len(sessions))
    if chance.random() < 0.25:
        sessions[at] = _session_changed(sessions[at], chance)
        if chance.random() < 0.3:
            sessions.insert(chance.randrange(len(sessions)), sessions.pop(at))
    elif sessions[at].reps:
        reps = list(sessions[at].reps)
        place = chance.randrange(len(reps))
        reps[place] = _rep_changed(reps[place], chance)
        sessions[at] = sessions[at]._replace(reps=tuple(reps))
    return history._replace(sessions=tuple(sessions))


def _session_changed(one: SessionDigest, chance: random.Random) -> SessionDigest:
    how = chance.choice(["day", "no day", "unit", "ceiling"])
    if how == "day" and one.began is not None:
        return one._replace(began=one.began.replace(day=chance.randint(1, 28)))
    if how == "no day":
        return one._replace(began=None)
    if how == "unit":
        return one._replace(transmitter=chance.choice([UNIT, FINE]))
    return one._replace(ceiling=chance.choice([None, chance.randint(1, 20)]))


def _rep_changed(one: RepDigest, chance: random.Random) -> RepDigest:
    match chance.choice(["levels", "levels", "outcome", "state", "mode", "drill", "distraction"]):
        case "levels":
            many = chance.randint(1, 3)
            return one._replace(levels=tuple(chance.randint(0, 22) for _ in range(many)))
        case "outcome":
            return one._replace(outcome=chance.choice(["complied", "slow", "ignored", None]))
        case "state":
            return one._replace(state=chance.choice(["sure", "check", "void"]))
        case "mode":
            return one._replace(mode=chance.choice(["continuous", "momentary", "none"]))
        case "drill":
            return one._replace(drill=chance.choice(["recall", "place", "find level"]))
        case _:
            return one._replace(distraction=chance.choice(["none", "low", "high", None]))
