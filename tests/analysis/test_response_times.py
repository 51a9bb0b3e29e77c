"""Times: an ignored call is censored, and how many were not timed is said."""

from __future__ import annotations

from tests.analysis.dogs import rep, session_digest
from voicelog.analysis.criteria import Criteria
from voicelog.analysis.response_times import ResponseTimes, TimeGroup, times
from voicelog.analysis.session_digest import SessionDigest
from voicelog.analysis.session_scope import scope_of
from voicelog.analysis.statistics.survival import LogRankTest, Survival, TimeEstimate
from voicelog.analysis.statistics.unknown import Unknown

RULES = Criteria()


def of(*session_digests: SessionDigest) -> ResponseTimes:
    return times(scope_of(session_digests), RULES, "recall")


def group(found: ResponseTimes, what: str, name: str = "these sessions") -> TimeGroup:
    return next(one for one in found.groups if (one.what, one.group) == (what, name))


def test_an_ignored_call_is_not_slow_but_not_there_yet() -> None:
    reps = [rep(n, latency_s=float(n)) for n in range(1, 5)]
    reps += [rep(5, "none", [], "ignored", failed_s=2.5)]
    one = group(of(session_digest(reps)), "come")
    assert isinstance(one.curve, Survival)
    assert (one.curve.of, one.curve.events) == (5, 4)
    assert isinstance(one.median, TimeEstimate)
    assert one.median.value == 3.0


def test_untimed_reps_are_counted_and_left_out() -> None:
    reps = [rep(1, latency_s=2.0, turned_s=1.0), rep(2, latency_s=3.0), rep(3)]
    found = of(session_digest(reps))
    come, turn = group(found, "come"), group(found, "turn")
    assert (come.of, come.timed, come.not_timed, come.reps) == (3, 2, 1, ("s0.1", "s0.2"))
    assert (turn.timed, turn.not_timed, turn.reps) == (1, 2, ("s0.1",))


def test_a_turn_then_nothing_is_a_turn() -> None:
    one = group(
        of(session_digest([rep(1, "none", [], "ignored", turned_s=1.5, failed_s=9.0)])), "turn"
    )
    assert isinstance(one.median, TimeEstimate)
    assert one.median.value == 1.5


def test_nothing_timed_is_a_sentence() -> None:
    one = group(of(session_digest([rep(1)])), "come")
    assert isinstance(one.median, Unknown)
    assert isinstance(one.mean, Unknown)


def test_nobody_came_is_a_sentence() -> None:
    one = group(
        of(session_digest([rep(n, "none", [], "ignored", failed_s=9.0) for n in (1, 2)])), "come"
    )
    assert isinstance(one.median, Unknown)


def test_periods_buttons_and_distractions_are_compared() -> None:
    before = [
        session_digest([rep(n, latency_s=8.0 + n) for n in range(1, 6)], day) for day in range(10)
    ]
    now = [
        session_digest(
            [
                rep(
                    n,
                    "continuous" if n % 2 else "none",
                    [2] if n % 2 else [],
                    latency_s=2.0 + n / 10,
                    distraction="low" if n > 3 else "none",
                )
                for n in range(1, 7)
            ],
            20 + day,
        )
        for day in range(10)
    ]
    found = of(*before, *now)
    pairs = {(one.what, one.groups): one.result for one in found.compared}
    periods = pairs["come", ("these sessions", "the sessions before")]
    assert isinstance(periods, LogRankTest)
    assert periods.p < 0.001
    assert ("come", ("with the button", "no button")) in pairs
    assert ("come", ("distraction none", "distraction low")) in pairs
