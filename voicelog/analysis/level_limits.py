"""Where a session that uses the button may start, and how far it may go: limits, not tasks.

Both limits come from the same reps: sure recalls in the dog's own mode, on this transmitter, that
the dog answered without a strong sign. A tap that was answered says nothing of a held press, nor a
tap of the drill "find level" of a recall. What was pressed and not answered says nothing at all, so
no press can raise a limit. There must be enough of them in the last sessions that were worked so;
where some of those had no such rep, what was answered lower before them counts as well.

- *The start* is the second lowest level at which one of them ended, where some level was taken by
  enough of them: so it is never above the lowest such level, one odd entry does not move it, and
  what went easier at another distraction lowers it. At this distraction or an easier one there must
  be enough of them.
- *The cap* is a step above the level at which, or above which, enough of those at this distraction
  or an easier one ended; those with stress do not raise it.
- *Both fade*: a step down for every so many weeks without enough such recalls. What has no date,
  or one after today, is taken as long ago.
- Neither lies above the ceiling, which never fades (`dog_ceiling`).

A rep *took* its highest level, and *ended* at the level in force when the dog came: a trainer rolls
back on the answer, and what was said before it may be an odd entry. The level at its end belongs
to its mode; where others belong to another one (`mixed`), it took none.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from datetime import date
from typing import NamedTuple

from voicelog.analysis.criteria import Criteria
from voicelog.analysis.levels import Ceiling
from voicelog.analysis.reason import Reason, ReasonCode
from voicelog.analysis.session_digest import RepDigest, SessionDigest
from voicelog.analysis.session_scope import (
    RepInSession,
    distraction_rank,
    ids,
    last_sessions_with,
    reps_that,
)
from voicelog.model import Dog, Mode, Transmitter
from voicelog.model.dial import level_above, level_below
from voicelog.model.domain import DISTRACTION_LADDER

__all__ = ["DRILL", "LevelLimits", "is_answered", "level_limits", "lowest_limits", "own_mode"]

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


class FadingSteps(NamedTuple):
    """By how many steps evidence has faded: `weeks` since it was last renewed, on `day`. Without a
    day to go by it has faded altogether (`steps` None)."""

    steps: int | None
    weeks: int = 0
    day: date | None = None


def own_mode(dog: Dog) -> Mode:
    """The mode that the dog is worked in: its profile's, or the only one its transmitter has."""
    if dog.default_mode in dog.transmitter.modes:
        return dog.default_mode
    return "continuous" if "continuous" in dog.transmitter.modes else "momentary"


def is_answered(rep: RepDigest, mode: Mode) -> bool:
    """Whether a rep is evidence in this mode: a sure recall at a level, answered without a strong
    sign."""
    here = rep.state == "sure" and rep.drill == DRILL and rep.mode == mode
    return here and bool(rep.levels) and rep.came and not rep.strong


def level_limits(
    session_digests: Sequence[SessionDigest],
    dog: Dog,
    criteria: Criteria,
    goal: str,
    ceiling: Ceiling,
    today: date | None = None,
) -> LevelLimits:
    """The limits for work at distraction `goal`, faded as of `today` where it is given.

    `session_digests`: those of its transmitter, oldest first.
    """
    unit, mode, needed = dog.transmitter, own_mode(dog), criteria.answered_reps
    recent, answered = _answered(session_digests, unit, criteria, mode)
    here = [one for one in recent if _within(one.rep, goal)]
    fading = _fading(answered, criteria, today)
    enough = len(here) >= needed and _start(recent, needed) is not None
    level = _start(answered, needed) if enough else None
    thin = level is None or fading.steps is None
    if level is None or fading.steps is None:
        start = unit.lowest
        code: ReasonCode = "thin evidence" if level is None else "no date"
        why = Reason(code=code, needed=needed, mode=mode, level=start, reps=ids(here))
    else:
        start = _eased(unit, level, fading.steps)
        below = [one for one in answered if _ended(one) <= level]
        why = Reason(
            code="faded" if fading.steps else "answered low",
            day=fading.day,
            level=start,
            mode=mode,
            count=fading.weeks if fading.steps else len(below),
            needed=criteria.fade_weeks,
            reps=ids(below),
        )
    reached = None if thin else _reached(here, needed)
    most = unit.lowest if reached is None else _eased(unit, reached, fading.steps or 0)
    most = min(level_above(unit, most), unit.highest)
    if ceiling.level is not None and ceiling.level <= most:
        most = ceiling.level
        strong = ceiling.strong.reps if ceiling.strong else ()
        cap = Reason(code="ceiling", ceiling=ceiling, reps=strong)
    else:
        code = "none answered" if reached is None else "step above answered"
        cap = Reason(code=code, level=most, needed=needed, mode=mode, count=fading.steps or 0)
    reasons = (why, cap) if thin or start <= most else (cap,)
    return LevelLimits(mode, min(start, most), most, reasons, thin)


def lowest_limits(limits: LevelLimits, others: Sequence[LevelLimits]) -> LevelLimits:
    """Limits that lie above none of the `others`, with the reasons of those that hold."""
    every = (limits, *others)
    begin = min(every, key=lambda one: one.start)
    end = min(every, key=lambda one: one.most)
    if begin.start >= end.start:
        return end
    why = (begin.why[0], end.why[-1])
    return LevelLimits(limits.mode, begin.start, end.most, why, begin.thin or end.thin)


def _answered(
    session_digests: Sequence[SessionDigest], unit: Transmitter, criteria: Criteria, mode: Mode
) -> tuple[list[RepInSession], list[RepInSession]]:
    """The evidence of the last sessions worked in this mode, and that of the last sessions that
    have some; what took a level that the dial lacks is none."""

    def worked(rep: RepDigest) -> bool:
        return rep.drill == DRILL and rep.mode == mode

    def counts(rep: RepDigest) -> bool:
        return is_answered(rep, mode) and unit.lowest <= max(rep.levels) <= unit.highest

    def found(wanted: Callable[[RepDigest], bool]) -> list[RepInSession]:
        last = last_sessions_with(session_digests, wanted, criteria.look_back)
        return reps_that(last, counts)

    return found(worked), found(counts)


def _within(rep: RepDigest, goal: str) -> bool:
    """Whether it was at distraction `goal` or an easier one."""
    at = distraction_rank(rep.distraction)
    return at is not None and at <= DISTRACTION_LADDER.index(goal)


def _ended(one: RepInSession) -> int:
    """The level in force when the dog came, as the lowest on the dial where it lies below that."""
    return max(one.session_digest.transmitter.lowest, one.rep.levels[-1])


def _start(answered: Sequence[RepInSession], needed: int) -> int | None:
    """The second lowest level at which one ended, which is never above the lowest that so many
    took; None where no level was taken so often."""
    took = Counter(max(one.rep.levels) for one in answered if not one.rep.mixed)
    if max(took.values(), default=0) < needed:
        return None
    return sorted(_ended(one) for one in answered)[1]


def _reached(here: Sequence[RepInSession], needed: int) -> int | None:
    """The highest level at which, or above which, so many ended without stress."""
    ended = sorted((_ended(one) for one in here if not one.rep.stress), reverse=True)
    return ended[needed - 1] if len(ended) >= needed else None


def _fading(
    answered: Sequence[RepInSession], criteria: Criteria, today: date | None
) -> FadingSteps:
    """How far the evidence has faded: it is as old as the newest day since which there was enough
    of it, so that one odd entry does not renew it."""
    if today is None:
        return FadingSteps(0)
    days = sorted(
        day for one in answered if (day := one.session_digest.day) is not None and day <= today
    )
    if len(days) < criteria.answered_reps:
        return FadingSteps(None)
    day = days[-criteria.answered_reps]
    weeks = (today - day).days // 7
    return FadingSteps(weeks // criteria.fade_weeks, weeks, day)


def _eased(unit: Transmitter, level: int, steps: int) -> int:
    """So many steps below a level, at least the lowest."""
    for _ in range(steps):
        below = level_below(unit, level)
        if below is None:
            return unit.lowest
        level = below
    return level
