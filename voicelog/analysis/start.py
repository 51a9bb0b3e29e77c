"""Where a session that uses the button may start, and how far it may go: limits, not tasks.

A start is the lowest level that the dog answered often enough on this transmitter, at this
distraction or an easier one; without that, the lowest level there is. Neither limit lies
above the ceiling.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from typing import NamedTuple

from voicelog.analysis.criteria import Criteria
from voicelog.analysis.levels import Ceiling
from voicelog.analysis.reason import Reason
from voicelog.analysis.series import (
    FIND_LEVEL,
    LADDER,
    STIMULATION,
    Told,
    ids,
    last_sittings,
    numbered,
    rung,
    told,
)
from voicelog.analysis.sitting import Sitting
from voicelog.model import Dog
from voicelog.steps import raised

__all__ = ["Limits", "limits"]


class Limits(NamedTuple):
    """Start no higher than `start`, go no higher than `most`; `thin`: little to go on."""

    start: int
    most: int
    why: tuple[Reason, ...]
    thin: bool


def limits(
    sittings: Sequence[Sitting], dog: Dog, criteria: Criteria, goal: str, ceiling: Ceiling
) -> Limits:
    """The limits for work at distraction `goal`. `sittings` of the dog on its transmitter."""
    unit = dog.transmitter
    answered = _evidence(sittings, criteria, goal)
    enough = [level for level, reps in answered.items() if len(reps) >= criteria.answered_reps]
    thin = not enough
    if thin:
        start = unit.lowest
        reasons = [
            Reason(
                words=f"No level was answered {criteria.answered_reps} times at this distraction "
                "or an easier one on this transmitter: thin evidence, so never start above the "
                f"lowest level, {unit.lowest}.",
                reps=ids(one for reps in answered.values() for one in reps),
            )
        ]
    else:
        start = min(enough)
        reasons = [
            Reason(
                words=f"Level {start} is the lowest answered {criteria.answered_reps} times or "
                f"more ({numbered(len(answered[start]), 'rep')}).",
                reps=ids(answered[start]),
            )
        ]
    met = [
        level
        for one in told(sittings)
        if one.rep.heard == "sure" and one.rep.mode in STIMULATION
        for level in one.rep.levels
    ]
    highest = max([start, *met]) if met else unit.lowest
    most = min(raised(unit, highest), unit.highest)
    if ceiling.level is not None and ceiling.level <= most:
        most = ceiling.level
        reasons.append(
            Reason(words=ceiling.why, reps=ceiling.strong.reps if ceiling.strong else ())
        )
    else:
        reasons.append(
            Reason(
                words=f"Not above {most}: one step above the highest level met so far."
                if met
                else f"Not above {most}: this dog has met no level yet."
            )
        )
    return Limits(min(start, most), most, tuple(reasons), thin)


def _evidence(sittings: Sequence[Sitting], criteria: Criteria, goal: str) -> dict[int, list[Told]]:
    """Reps by the level they were answered at, at this distraction or an easier one."""
    place = LADDER.index(goal)

    def fits(one: Told) -> bool:
        at = rung(one.rep.distraction)
        return (
            one.rep.heard == "sure"
            and one.rep.mode in STIMULATION
            and one.rep.drill != FIND_LEVEL
            and one.rep.came
            and not one.rep.strong
            and bool(one.rep.levels)
            and at is not None
            and at <= place
        )

    recent = last_sittings(sittings, lambda rep: rep.mode in STIMULATION, criteria.look_back)
    found: dict[int, list[Told]] = defaultdict(list)
    for one in told(recent):
        if fits(one):
            found[max(one.rep.levels)].append(one)
    return found
