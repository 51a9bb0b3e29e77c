"""The story of a dog in short: how it goes today, and what has changed.

What is open stands in its plan (`plan.Plan`); the three together are what stands on top of every
paper over weeks, in the same words.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from voicelog.analysis.call_trend import CallTrend, change_of
from voicelog.analysis.criteria import Criteria
from voicelog.analysis.recent_calls import Ability, CallAbility, ability_of, last_calls
from voicelog.analysis.session_digest import SessionDigest
from voicelog.analysis.statistics.unknown import Unknown
from voicelog.model import FrozenModel

__all__ = ["Story", "story"]


class Story(FrozenModel):
    """`today` is what the dog does now at each distraction, `at` the one that is told: the hardest
    with enough calls, else the one with most, None where there is none; `enough` says whether it
    has enough. `long_ago`: the calls are older than the weeks that stand for today."""

    today: Ability
    at: CallAbility | None
    enough: bool
    long_ago: bool
    change: CallTrend | Unknown


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
    )
