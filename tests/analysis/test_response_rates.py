"""First calls and reps without the button, in groups, each with its reps."""

from __future__ import annotations

from tests.analysis.dogs import good, rep, session_digest
from voicelog.analysis.criteria import Criteria
from voicelog.analysis.response_rates import drills, response_rates
from voicelog.analysis.session_scope import scope_of
from voicelog.analysis.statistics.proportion import Proportion
from voicelog.analysis.statistics.unknown import Unknown
from voicelog.analysis.story import story

RULES = Criteria()


def test_neither_a_second_call_nor_a_press_is_a_first_call() -> None:
    reps = [
        rep(1),
        rep(2, cues=2),
        rep(3, "continuous", [2]),
        rep(4, "none", [], "ignored"),
        rep(5, "unknown"),
    ]
    (one,) = response_rates(scope_of([session_digest(reps)]), RULES, "recall")
    assert isinstance(one.first_call, Proportion)
    assert (one.first_call.count, one.first_call.of, one.came) == (1, 5, 3)
    assert isinstance(one.no_button, Proportion)
    assert (one.no_button.count, one.no_button.of, one.unsaid) == (1, 4, 1)
    assert one.reps == ("s0.1", "s0.2", "s0.3", "s0.4", "s0.5")


def test_groups_come_where_something_differed_and_add_up() -> None:
    reps = [
        rep(n, distraction=("none", "high", None)[n % 3], line="trailing") for n in range(1, 10)
    ]
    whole, *groups = response_rates(scope_of([session_digest(reps)]), RULES, "recall")
    assert [(one.by, one.value) for one in groups] == [
        ("distraction", "none"), ("distraction", "high"), ("distraction", None),
    ]  # fmt: skip
    assert sorted(ref for one in groups for ref in one.reps) == sorted(whole.reps)


def test_one_count_has_one_interval_on_top_of_the_paper_and_under_calls() -> None:
    """Both mind that the calls of a session are alike."""
    sessions = [good(0, came=2), good(1, came=8)]
    (one,) = response_rates(scope_of(sessions), RULES, "recall")
    on_top = story(sessions, RULES).at
    assert on_top is not None
    assert one.first_call == on_top.unaided


def test_only_the_last_sessions_count() -> None:
    session_digests = [good(day, came=0) for day in range(20)] + [good(20 + n) for n in range(10)]
    (one,) = response_rates(scope_of(session_digests), RULES, "recall")
    assert isinstance(one.first_call, Proportion)
    assert (one.first_call.count, one.first_call.of) == (90, 100)


def test_no_call_is_a_sentence() -> None:
    (one,) = response_rates(scope_of([]), RULES, "recall")
    assert isinstance(one.first_call, Unknown)
    assert isinstance(one.no_button, Unknown)


def test_recall_comes_first_and_find_level_never() -> None:
    reps = [rep(n, drill="stop") for n in range(1, 9)] + [rep(9), rep(10, drill="find level")]
    assert drills(scope_of([session_digest(reps)]), RULES) == ("recall", "stop")
