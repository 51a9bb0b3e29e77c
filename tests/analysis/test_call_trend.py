"""The change across rising distraction, and the ability of today."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from typing import Any

from tests.analysis.dogs import FIRST, good, session_digest
from tests.bench.call_changes import drawn_history
from tests.known import known
from voicelog.analysis.call_trend import CallTrend, call_trend
from voicelog.analysis.criteria import Criteria
from voicelog.analysis.recent_calls import LAST_SESSIONS, Ability, ability
from voicelog.analysis.session_digest import SessionDigest
from voicelog.analysis.statistics.unknown import Unknown

RULES = Criteria()
LADDER = ("none", "low", "medium", "high")


def climbing(*shares: Sequence[int], **more: Any) -> list[SessionDigest]:
    """Sessions of ten calls: how many were answered in each, from distraction to distraction."""
    return [
        good(10 * rank + number, came, distraction=LADDER[rank], **more)
        for rank, some in enumerate(shares)
        for number, came in enumerate(some)
    ]


EIGHTEEN = climbing([4, 5, 7, 8, 9], [4, 6, 7, 7, 9], [3, 5, 7, 8, 9], [4, 7, 9])
"""Eighteen sessions of visible progress, of which the last three are at the hardest distraction."""


def told(sessions: Sequence[SessionDigest]) -> CallTrend:
    found = call_trend(sessions)
    assert isinstance(found, CallTrend)
    return found


def test_eighteen_sessions_of_progress_are_told_across_distractions() -> None:
    found = told(EIGHTEEN)
    assert (found.change, found.at, found.sessions, found.of) == ("better", "high", 18, 180)
    assert 0.4 < found.first < 0.6 < 0.8 < found.now
    assert found.low > 0
    assert (found.easiest, found.hardest) == ("none", "high")


def test_a_dog_that_gets_worse_is_told_so() -> None:
    assert told(climbing([9, 8, 6, 5, 3], [9, 7, 6, 4, 4])).change == "worse"


def test_a_ladder_without_a_change_at_any_distraction_tells_none() -> None:
    flat = climbing([9, 8, 9, 8, 9], [7, 8, 7, 8, 7], [6, 5, 6, 5, 6], [4, 4, 5])
    found = told(flat)
    assert found.change == "not told"
    assert found.low < 0 < found.high


def test_more_answered_though_harder_is_told_without_a_trend_within() -> None:
    found = told(climbing([2, 3, 2, 3], [5, 4, 5, 5], [7, 8, 7, 7], [9, 9, 9, 9]))
    assert found.change == "better though harder"
    assert found.low > 0
    assert (found.easiest, found.hardest) == ("none", "high")


def test_work_that_gets_easier_is_no_progress() -> None:
    easier = [
        good(day, came, distraction=at)
        for day, (came, at) in enumerate([(3, "high")] * 6 + [(9, "none")] * 6)
    ]
    assert told(easier).change == "not told"


def test_too_little_and_nearly_all_alike_are_said() -> None:
    assert call_trend([good(0)]) == Unknown(code="too few calls", of=10, needed=30)
    alike = [good(day, 10) for day in range(6)]
    assert call_trend(alike) == Unknown(code="nearly all alike", of=60, count=60)
    four = [good(day, came) for day, came in enumerate([3, 5, 7, 8])]
    assert call_trend(four) == Unknown(code="too few sessions", of=4, needed=5)


def test_a_button_that_was_often_not_said_tells_no_change() -> None:
    unsaid = [
        one._replace(reps=tuple(rep._replace(mode="unknown") for rep in one.reps))
        for one in EIGHTEEN[:6]
    ]
    found = call_trend([*unsaid, *EIGHTEEN[6:]])
    assert isinstance(found, Unknown)
    assert found.code == "button unsaid"


def test_only_the_last_sessions_are_told_of() -> None:
    old = [good(day - 400, 2) for day in range(10)]
    many = [good(day, 4 + day % 5) for day in range(LAST_SESSIONS)]
    assert call_trend([*old, *many]) == call_trend(many)


def test_a_seeded_dog_that_does_not_change_is_seldom_said_to() -> None:
    changes = [call_trend(drawn_history(seed, 18, 0.0, 0.6)) for seed in range(40)]
    false = [one for one in changes if isinstance(one, CallTrend) and one.change != "not told"]
    assert len(false) <= 4


# --- today -----------------------------------------------------------------------------


def today_of(sessions: Sequence[SessionDigest], day: int) -> Ability:
    return ability(sessions, RULES, (FIRST + timedelta(days=day)).date())


def test_the_easy_early_weeks_say_nothing_of_today() -> None:
    early = [good(day, 10, distraction="none") for day in range(5)]
    late = [good(60 + day, 4, distraction="medium") for day in range(3)]
    found = today_of([*early, *late], 63)
    assert [(one.distraction, one.unaided.count, one.unaided.of) for one in found.calls] == [
        ("medium", 12, 30)
    ]
    assert (found.weeks_ago, found.first, found.last) == (0, late[0].day, late[-1].day)
    assert known(found.at(10)).distraction == "medium"


def test_what_is_long_ago_says_how_long() -> None:
    assert today_of([good(0)], 70).weeks_ago == 10
    assert today_of([], 0) == Ability(calls=(), first=None, last=None, weeks_ago=None)


def test_without_days_the_last_sessions_stand_for_the_last_weeks() -> None:
    undated = [good(day)._replace(began=None) for day in range(8)]
    found = today_of(undated, 9)
    assert (found.calls[0].sessions, found.weeks_ago) == (5, None)


def test_the_hardest_distraction_with_enough_calls_is_told_first() -> None:
    mixed = session_digest(
        [*good(0).reps, *good(0, distraction="high").reps[:3], *good(0, distraction="low").reps]
    )
    found = today_of([mixed], 1)
    assert [one.distraction for one in found.calls] == ["none", "low", "high"]
    assert known(found.at(10)).distraction == "low"
    assert known(found.at(99)).unaided.of == 10
