"""From session to session: one value each, a trend in a sentence, and the baseline."""

from __future__ import annotations

from datetime import date

from tests.analysis.dogs import good, rep, session_digest
from voicelog.analysis.criteria import Criteria
from voicelog.analysis.measure_series import (
    Baseline,
    MeasureSeries,
    baseline,
    current_distraction,
    measure_series,
)
from voicelog.analysis.session_digest import SessionDigest
from voicelog.analysis.session_scope import RepInSession, scope_of
from voicelog.analysis.statistics.cusum import Cusum
from voicelog.analysis.statistics.trend import Trend
from voicelog.analysis.statistics.unknown import Unknown
from voicelog.report.wording.statistics import (
    series_change_words,
    series_trend_words,
    unknown_words,
)

RULES = Criteria()


def measure(session_digests: list[SessionDigest], name: str) -> MeasureSeries:
    return next(
        one
        for one in measure_series(scope_of(session_digests), "recall", "none")
        if one.measure == name
    )


def every_rep(session_digests: list[SessionDigest]) -> list[RepInSession]:
    return [RepInSession(one, rep) for one in session_digests for rep in one.reps]


def test_a_dog_that_learns_has_a_rising_trend() -> None:
    one = measure([good(day, came=min(10, 1 + day)) for day in range(10)], "first call")
    assert isinstance(one.trend, Trend)
    assert one.trend.slope > 0
    assert series_trend_words(one).startswith(
        "The share of first calls answered unaided rises by 10.0 of 100 calls"
    )
    assert [point.of for point in one.points] == [10] * 10
    assert one.points[0].reps[0] == "s0.1"


def test_a_sudden_change_is_dated() -> None:
    values = [5, 6, 5, 4, 5, 6, 5, 4] + [9] * 8
    one = measure([good(day, came=came) for day, came in enumerate(values)], "first call")
    assert isinstance(one.change, Cusum)
    assert one.change.direction == "up"
    assert "Mar 2031" in series_change_words(one)


def test_few_sessions_give_a_sentence() -> None:
    one = measure([good(day) for day in range(3)], "first call")
    assert isinstance(one.trend, Unknown)
    assert isinstance(one.change, Unknown)
    assert series_trend_words(one) == "3 values; a trend needs 4."


def test_a_session_of_two_reps_has_no_value() -> None:
    assert measure([session_digest([rep(1), rep(2)], 0)], "first call").points == ()


def test_distractions_are_not_mixed() -> None:
    session_digests = [good(day) for day in range(6)] + [good(6 + d, came=1) for d in range(6)]
    hard = [
        one._replace(reps=tuple(r._replace(distraction="high") for r in one.reps))
        for one in session_digests[6:]
    ]
    one = measure([*session_digests[:6], *hard], "first call")
    assert [point.value for point in one.points] == [0.9] * 6


def test_where_a_dog_is_at_is_the_highest_distraction_worked_enough() -> None:
    low = [rep(n, distraction="low") for n in range(1, 6)]
    assert (
        current_distraction(scope_of([good(0), session_digest(low, 1)]), RULES, "recall") == "low"
    )
    assert (
        current_distraction(scope_of([good(0), session_digest(low[:4], 1)]), RULES, "recall")
        == "none"
    )
    assert current_distraction(scope_of([]), RULES, "recall") is None


# --- baseline --------------------------------------------------------------------------


def test_without_two_sessions_before_stimulation_no_comparison_is_possible() -> None:
    session_digests = [good(0), good(1, button=2), good(2)]
    found = baseline(scope_of(session_digests), "recall", every_rep(session_digests[1:]))
    assert isinstance(found, Unknown)
    assert unknown_words(found).startswith("No baseline (two sessions of no-button recalls")
    assert unknown_words(found).endswith("no comparison possible.")


def test_with_a_baseline_now_stands_beside_then() -> None:
    session_digests = [good(0, came=4), good(1, came=4), good(2, button=2), good(3, came=9)]
    found = baseline(scope_of(session_digests), "recall", every_rep(session_digests[2:]))
    assert isinstance(found, Baseline)
    assert (found.before.count, found.before.of) == (8, 20)
    assert (found.now.count, found.now.of) == (17, 20)
    assert found.days == (date(2031, 3, 1), date(2031, 3, 2))
    assert len(found.reps) == 20


def test_the_course_of_levels_is_of_one_mode() -> None:
    """Taps at 9 and held presses at 2 in turn are no rise and no fall."""
    past = [
        session_digest(
            [
                rep(n, "continuous", [2]) if day % 2 else rep(n, "momentary", [9])
                for n in range(1, 6)
            ],
            day,
        )
        for day in range(8)
    ]
    series = measure_series(scope_of(past), "recall", "none")
    (levels,) = [one for one in series if one.measure == "level answered"]
    assert [point.value for point in levels.points] == [2.0] * 4
