"""Where a session that uses the button may start, and how far it may go: limits, not tasks.

Both limits come from the same reps: recalls in the dog's own mode, on this transmitter, at this
distraction or an easier one. A tap that was answered says nothing of a held press, nor a tap of
the drill "find level" of a recall. The start is the lowest level that the dog answered in enough
of them, else the lowest level there is. The cap is a step above the highest level that enough of
them reached, so one odd entry moves neither. Neither lies above the ceiling.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from typing import NamedTuple

from voicelog.analysis.criteria import Criteria
from voicelog.analysis.levels import Ceiling
from voicelog.analysis.reason import Reason
from voicelog.analysis.session_digest import RepDigest, SessionDigest
from voicelog.analysis.session_scope import (
    RepInSession,
    all_reps,
    distraction_rank,
    ids,
    last_sessions_with,
)
from voicelog.model import Dog, Mode
from voicelog.model.dial import level_above
from voicelog.model.domain import DISTRACTION_LADDER

__all__ = ["DRILL", "LevelLimits", "level_limits", "own_mode"]

DRILL = "recall"
"""The drill that is planned."""


class LevelLimits(NamedTuple):
    """In this mode start no higher than `start`, go no higher than `most`; `thin`: little to go
    on."""

    mode: Mode
    start: int
    most: int
    why: tuple[Reason, ...]
    thin: bool


def own_mode(dog: Dog) -> Mode:
    """The mode that the dog is worked in: its profile's, or the only one its transmitter has."""
    if dog.default_mode in dog.transmitter.modes:
        return dog.default_mode
    return "continuous" if "continuous" in dog.transmitter.modes else "momentary"


def level_limits(
    session_digests: Sequence[SessionDigest],
    dog: Dog,
    criteria: Criteria,
    goal: str,
    ceiling: Ceiling,
) -> LevelLimits:
    """The limits for work at distraction `goal`. `session_digests`: of its transmitter."""
    unit = dog.transmitter
    mode = own_mode(dog)
    worked = _worked(session_digests, criteria, goal, mode)
    answered = _answered(worked)
    enough = [level for level, reps in answered.items() if len(reps) >= criteria.answered_reps]
    thin = not enough
    if thin:
        start = unit.lowest
        reasons = [
            Reason(
                code="thin evidence",
                needed=criteria.answered_reps,
                mode=mode,
                level=unit.lowest,
                reps=ids(one for reps in answered.values() for one in reps),
            )
        ]
    else:
        start = min(enough)
        reasons = [
            Reason(
                code="lowest answered",
                level=start,
                needed=criteria.answered_reps,
                mode=mode,
                count=len(answered[start]),
                reps=ids(answered[start]),
            )
        ]
    peaks = sorted((max(one.rep.levels) for one in worked), reverse=True)
    met = peaks[criteria.answered_reps - 1 : criteria.answered_reps]
    highest = max([start, *met])
    most = min(level_above(unit, highest), unit.highest)
    if ceiling.level is not None and ceiling.level <= most:
        most = ceiling.level
        reasons.append(
            Reason(
                code="ceiling",
                ceiling=ceiling,
                reps=ceiling.strong.reps if ceiling.strong else (),
            )
        )
    else:
        reasons.append(
            Reason(
                code="step above reached" if met else "none reached",
                level=most,
                needed=criteria.answered_reps,
                mode=mode,
            )
        )
    return LevelLimits(mode, min(start, most), most, tuple(reasons), thin)


def _worked(
    session_digests: Sequence[SessionDigest], criteria: Criteria, goal: str, mode: Mode
) -> list[RepInSession]:
    """The sure recalls with a level in this mode, at this distraction or an easier one."""
    place = DISTRACTION_LADDER.index(goal)

    def here(rep: RepDigest) -> bool:
        return rep.drill == DRILL and rep.mode == mode

    def fits(rep: RepDigest) -> bool:
        at = distraction_rank(rep.distraction)
        return here(rep) and bool(rep.levels) and at is not None and at <= place

    recent = last_sessions_with(session_digests, here, criteria.look_back)
    return [one for one in all_reps(recent) if one.rep.state == "sure" and fits(one.rep)]


def _answered(worked: Sequence[RepInSession]) -> dict[int, list[RepInSession]]:
    """Those that were answered with no strong sign, by their level."""
    found: dict[int, list[RepInSession]] = defaultdict(list)
    for one in worked:
        if one.rep.came and not one.rep.strong:
            found[max(one.rep.levels)].append(one)
    return found
