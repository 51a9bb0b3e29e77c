"""The story of a dog in short: how it goes today, and what has changed.

What is open stands in its plan (`plan.Plan`); the three together are what stands on top of every
paper over weeks, in the same words.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from voicelog.analysis.call_trend import CallTrend, change_of
from voicelog.analysis.criteria import Criteria
from voicelog.analysis.recent_calls import (
    Ability,
    CallAbility,
    ability_of,
    last_calls,
    recent_sessions,
)
from voicelog.analysis.session_digest import SessionDigest, by_date
from voicelog.analysis.session_scope import RepInSession, ids
from voicelog.analysis.statistics.unknown import Unknown
from voicelog.analysis.unaided import came_at_once
from voicelog.model import FrozenModel

__all__ = ["LeftOut", "Story", "story"]


class LeftOut(FrozenModel):
    """Calls of the same weeks that stand in no number of a story, since their drill or their
    distraction was not said: to `came` of `of` the dog came at once; `last` is the day of the
    newest (None: not known)."""

    came: int
    of: int
    last: date | None
    reps: tuple[str, ...]


class Story(FrozenModel):
    """`today` is what the dog does now at each distraction, `at` the one that is told: the hardest
    with enough calls, else the one with most, None where there is none; `enough` says whether it
    has enough. `long_ago`: the calls are older than the weeks that stand for today. `left_out` are
    the calls that it does not tell of, None where there are none."""

    today: Ability
    at: CallAbility | None
    enough: bool
    long_ago: bool
    change: CallTrend | Unknown
    left_out: LeftOut | None = None


def story(
    session_digests: Sequence[SessionDigest], criteria: Criteria, today: date | None = None
) -> Story:
    """The story of a dog's recalls. `session_digests`: all its sessions, in any order."""
    calls = last_calls(session_digests)
    now = ability_of(calls, criteria, today)
    at = now.at(criteria.step_reps)
    return Story(
        today=now,
        at=at,
        enough=at is not None and at.unaided.of >= criteria.step_reps,
        long_ago=now.weeks_ago is not None and now.weeks_ago >= criteria.recent_weeks,
        change=change_of(calls),
        left_out=_left_out(session_digests, calls, criteria, at),
    )


def _left_out(
    session_digests: Sequence[SessionDigest],
    calls: Sequence[RepInSession],
    criteria: Criteria,
    at: CallAbility | None,
) -> LeftOut | None:
    """What was said without its drill, and recalls without their distraction, unless `at` is of
    those: a bad day is not to be lost by a word that nobody said."""
    no_drill = last_calls(session_digests, None)
    no_distraction = [one for one in calls if one.rep.distraction is None]
    told = at is not None and at.distraction is None
    unsaid = [*no_drill, *([] if told else no_distraction)]
    worked = {one.session_digest.session for one in (*calls, *no_drill)}
    recent = recent_sessions(
        [one for one in by_date(session_digests) if one.session in worked], criteria
    )
    left = [
        one for digest in recent for one in unsaid if one.session_digest.session == digest.session
    ]
    if not left:
        return None
    return LeftOut(
        came=sum(came_at_once(one.rep) for one in left),
        of=len(left),
        last=left[-1].session_digest.day,
        reps=ids(left),
    )
