"""What a trainer asks her data next."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, get_args

from hypothesis import given, settings
from hypothesis import strategies as st

from tests.analysis.dogs import good, rep, session_digest
from tests.analysis.hostile_histories import hostile_history
from tests.analysis.test_call_trend import EIGHTEEN
from voicelog.analysis.call_trend import CallTrend
from voicelog.analysis.questions import Answer, Question, questions
from voicelog.analysis.session_digest import RepDigest, SessionDigest
from voicelog.analysis.statistics.proportion import Proportion
from voicelog.analysis.statistics.share_difference import ShareDifference
from voicelog.analysis.statistics.unknown import Unknown
from voicelog.report.wording.questions import answer_words, question_words

ANSWER_S, MOSTLY = 2.0, 0.8


def asked(sessions: Sequence[SessionDigest], question: Question) -> Answer:
    found = questions(sessions, ANSWER_S, MOSTLY)
    return next(one for one in found if one.question == question)


def said(sessions: Sequence[SessionDigest], question: Question) -> str:
    return answer_words(asked(sessions, question), ANSWER_S)


def pressed(number: int, least_s: float | None, **more: Any) -> RepDigest:
    span = None if least_s is None else (least_s, least_s + 4.0)
    return rep(number, "continuous", [3], "complied", answer_s=span, **more)


def difference(answer: Answer) -> ShareDifference:
    assert isinstance(answer.result, ShareDifference), answer.result
    return answer.result


# --- each ------------------------------------------------------------------------------


def test_every_question_has_an_answer_and_too_few_is_one() -> None:
    for sessions in ([], [good(0)]):
        found = questions(sessions, ANSWER_S, MOSTLY)
        assert [one.question for one in found] == list(get_args(Question))
        for one in found:
            assert isinstance(one.result, Unknown | Proportion)
            assert answer_words(one, ANSWER_S).endswith(".")
            assert question_words(one.question)


def test_a_fair_chance_is_told_where_the_time_can_be() -> None:
    # most of 4 to 8 s lies above 2 s, most of 0 to 4 s on neither side, all of -2 to 2 s below
    reps = [pressed(n, 4.0) for n in range(1, 6)] + [pressed(n, -2.0) for n in (6, 7)]
    reps += [pressed(8, 0.0), pressed(9, None), rep(10)]
    one = asked([session_digest(reps)], "fair chance")
    assert isinstance(one.result, Proportion)
    assert (one.result.count, one.result.of, one.unclear, one.untimed) == (5, 7, 1, 1)
    assert said([session_digest(reps)], "fair chance").startswith(
        "It had 2 s to answer before a stimulus in 5 of 7 (71%, 95% interval "
    )
    assert "in 1 it is too close to tell, in 1 call and press were not said apart" in said(
        [session_digest(reps)], "fair chance"
    )
    few = asked([session_digest(reps[:3])], "fair chance")
    assert few.result == Unknown(code="too few presses", of=3, needed=6)


def weaned(*pressed_reps: int, mode: str = "continuous") -> list[SessionDigest]:
    return [
        session_digest(
            [rep(n + 1, mode if n < many else "none", (3,) if n < many else ()) for n in range(10)],
            day,
        )
        for day, many in enumerate(pressed_reps)
    ]


def test_weaning_is_told_by_session() -> None:
    less = asked(weaned(9, 8, 8, 6, 5, 3, 2, 1), "weaning from the button")
    assert isinstance(less.result, CallTrend)
    assert less.result.high < 0
    assert said(weaned(9, 8, 8, 6, 5, 3, 2, 1), "weaning from the button").startswith(
        "Less: the button was used in about"
    )
    same = said(weaned(5, 4, 6, 5, 4, 6, 5, 5), "weaning from the button")
    assert same.startswith("Whether the button is used less cannot be told from 80 calls")
    vibrate = [
        one._replace(reps=tuple(r._replace(levels=()) for r in one.reps))
        for one in weaned(1, 2, 4, 5, 7, 8, 9, mode="vibrate")
    ]
    assert said(vibrate, "weaning from vibrate").startswith("More: vibrate or tone")
    assert said([good(0)], "weaning from vibrate") == (
        "No vibrate and no tone in any of these calls."
    )


def test_the_first_calls_in_a_new_place_stand_against_home() -> None:
    places = ["yard", "yard", "field", "yard", "woods", "yard", "water", "yard"]
    sessions = [good(day, 3 if at != "yard" else 10, location=at) for day, at in enumerate(places)]
    away = [
        one._replace(reps=tuple(r._replace(outcome="ignored") for r in one.reps[:3]))
        if one.reps[0].location != "yard"
        else one
        for one in sessions
    ]
    one = asked(away, "new place")
    result = difference(one)
    assert one.names == ("new place", "yard")
    assert (result.of_first, result.first, result.second) == (9, 0.0, 1.0)
    assert result.high < 0
    assert said(away, "new place").startswith(
        "Fewer: unaided 0% of 9 calls first in a new place, 100% of"
    )
    again = [*away, good(20, 0, location="woods")]
    assert difference(asked(again, "new place")).of_first == 9


def test_handlers_are_compared_within_the_dog_at_the_same_distraction() -> None:
    # Joe only works where it is easy: what he does there is not held against Anna's hard days
    easy = [good(day, 9, handler=who) for day, who in enumerate(["Anna", "Joe"] * 3)]
    hard = [good(10 + day, 2, handler="Anna", distraction="high") for day in range(3)]
    result = difference(asked([*easy, *hard], "another handler"))
    assert (result.difference, result.of_first, result.of_second) == (0.0, 30, 30)
    assert said([*easy, *hard], "another handler").startswith("No difference can be told: unaided")
    assert said([good(0, handler="Anna")], "another handler") == (
        "Only one handler was said, or none."
    )


def test_calls_after_a_strong_sign_stand_against_those_before() -> None:
    yelp = rep(1, "continuous", [5], "complied", [("yelped", "strong", 5)])
    strong = session_digest([yelp], 2)
    before, after = [good(0, 10, 5), good(1, 10, 5)], [good(3, 1, 5), good(4, 0, 5)]
    result = difference(asked([*before, strong, *after], "after a strong sign"))
    assert (result.of_first, result.of_second) == (10, 10)
    assert result.high < 0
    assert said([good(0)], "after a strong sign") == "No strong sign in any of these calls."


def test_the_last_third_stands_against_the_first() -> None:
    tired = [good(day, 6, 9) for day in range(6)]
    result = difference(asked(tired, "end of a session"))
    assert (result.first, result.second, result.of_first) == (0.0, 1.0, 18)
    assert result.high < 0


def test_far_calls_stand_against_near_ones() -> None:
    mixed = [
        session_digest(
            [
                rep(n, distance_m=10.0 if n <= 5 else 40.0, outcome="complied" if n < 7 else "left")
                for n in range(1, 11)
            ],
            day,
        )
        for day in range(5)
    ]
    one = asked(mixed, "distance")
    assert (one.middle_m, difference(one).of_first) == (10.0, 25)
    assert "calls beyond 10 m" in said(mixed, "distance")


def test_the_reward_rate_is_of_the_calls_it_came_to() -> None:
    given_ = [
        session_digest([rep(n, rewards=("treat",) if n % 2 else ()) for n in range(1, 9)], day)
        for day in range(3)
    ]
    assert said(given_, "rewards").startswith("A reward was said in 12 of 24 (50%, 95% interval")


def test_calls_to_check_take_no_part() -> None:
    vague = [good(day, 9, state="check") for day in range(5)]
    assert all(isinstance(one.result, Unknown) for one in questions(vague, ANSWER_S, MOSTLY))


def test_eighteen_sessions_answer_what_they_can() -> None:
    told = {one.question for one in questions(EIGHTEEN, ANSWER_S, MOSTLY)
        if not isinstance(one.result, Unknown)}  # fmt: skip
    assert told == {"end of a session", "rewards"}


@given(st.integers(0, 100_000))
@settings(max_examples=40, deadline=None)
def test_any_history_has_answers_in_bounds(seed: int) -> None:
    for one in questions(hostile_history(seed).sessions, ANSWER_S, MOSTLY):
        assert answer_words(one, ANSWER_S).endswith((".", "!"))
        if isinstance(one.result, ShareDifference):
            assert -1 <= one.result.low <= one.result.difference <= one.result.high <= 1
