"""A session in a few numbers: which calls, which levels, what is marked."""

from __future__ import annotations

import pytest

from tests.analysis.dogs import good, rep, session_digest, tap
from tests.known import known
from voicelog.analysis.session_course import course_months, course_session, session_course
from voicelog.analysis.session_scope import scope_of
from voicelog.model import Transmitter


def test_levels_of_the_search_and_of_doubtful_reps_are_left_out_and_signs_are_not() -> None:
    one = course_session(
        session_digest(
            [
                tap(1, 14, seen=True),
                rep(2, "continuous", [2, 5]),
                rep(3, "continuous", [9], state="check", signs=[("yelped", "strong", 9)]),
                rep(4, "momentary", [3], "ignored"),
                rep(5, state="void", signs=[("froze", "strong", None)]),
                rep(6),
            ]
        ),
        "recall",
        "continuous",
    )
    assert (one.low, one.high, one.answered, one.tried) == (2, 5, 5, 1)
    assert (one.reps, one.pressed, one.asked, one.unaided) == (3, 2, 3, 1)
    assert (one.strong, one.strong_sign) == ((9,), True)


@pytest.mark.parametrize(
    ("outcomes", "answered"),
    [(["complied"] * 3, 3), (["complied", "ignored", "complied"], 2), (["ignored"] * 3, None)],
)
def test_the_middle_level_is_that_of_the_answered(
    outcomes: list[str], answered: int | None
) -> None:
    reps = [
        rep(number, "continuous", [level], outcome)
        for number, (level, outcome) in enumerate(zip((2, 3, 4), outcomes, strict=True), 1)
    ]
    one = course_session(session_digest(reps), "recall", "continuous")
    assert (one.answered, one.tried) == (answered, 3)


def test_the_mode_is_the_one_used_most_and_another_transmitter_has_no_level() -> None:
    taps = session_digest([rep(n, "momentary", [4]) for n in (1, 2, 3)], 4)
    older = good(0, button=9)._replace(transmitter=Transmitter(top=9))
    sessions = [older, good(2, button=2), taps]
    course = session_course(sessions, scope_of(sessions), "recall", {"s2"})
    assert course.mode == "momentary"
    assert [one.session for one in course.sessions] == ["s0", "s2", "s4"]
    assert [one.matter for one in course.sessions] == [False, True, False]
    first = course.sessions[0]
    assert (first.low, first.high, first.pressed, first.other_transmitter) == (None, None, 9, True)


def test_months_sum_their_sessions_and_leave_out_those_without_a_date() -> None:
    sessions = [good(0), good(29, button=2), good(35, 5), good(1)._replace(began=None)]
    months = course_months(session_course(sessions, scope_of(sessions), "recall").sessions)
    assert [(one.first.month, one.sessions) for one in months] == [(3, 2), (4, 1)]
    march, april = (known(one.share) for one in months)
    assert (march.count, march.of) == (17, 20)
    assert (april.count, april.of) == (5, 10)
    # ten calls of one session say less than ten of ten (Wilson for 5 of 10: 0.237 to 0.763)
    assert april.low < 0.237 < 0.763 < april.high
