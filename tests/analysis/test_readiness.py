"""Readiness: criteria with numbers, none of which needs a press."""

from __future__ import annotations

import random
import re
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.analysis.dogs import Dog, good, rep, session_digest, stopped
from voicelog.analysis.criteria import Criteria
from voicelog.analysis.criterion import Criterion
from voicelog.analysis.readiness import ReadinessStep, readiness
from voicelog.analysis.session_digest import RepDigest, SessionDigest
from voicelog.analysis.session_scope import scope_of
from voicelog.model.domain import STIMULATION
from voicelog.report.wording.readiness import (
    criterion_words,
    next_words,
    now_words,
    step_note,
    step_words,
)

RULES = Criteria()


def steps(
    *session_digests: SessionDigest, rules: Criteria = RULES, **more: Any
) -> dict[str, ReadinessStep]:
    found = readiness(scope_of(session_digests), rules, **more)
    return {step.ladder: step for step in found}


def found_in(criterion: Criterion) -> str:
    return criterion_words(criterion).found


def unmet(step: ReadinessStep) -> list[str]:
    return [criterion_words(one).name for one in step.criteria if not one.met]


def test_two_sessions_of_eight_in_ten_are_ready() -> None:
    step = steps(good(0, came=8), good(1, came=8))["distraction"]
    assert (step.verdict, now_words(step), next_words(step)) == ("ready", "none", "low")
    assert found_in(step.criteria[0]) == "8 of 10 on 1 Mar 2031; 8 of 10 on 2 Mar 2031"
    assert len(step.criteria[0].reps) == 20
    assert 0.002 < step.chance < 0.004


def test_seven_in_ten_or_one_session_is_not() -> None:
    assert unmet(steps(good(0, came=8), good(1, came=7))["distraction"]) == ["first call"]
    assert steps(good(0, came=8), good(1, came=7))["distraction"].verdict == "nearly"
    assert steps(good(0, came=10))["distraction"].verdict == "not yet"


def test_what_is_missing_is_said() -> None:
    step = steps(good(0, came=7), good(1, came=9))["distraction"]
    assert step_words(step) == (
        "Nearly ready for low; missing: 1 more session in a row with 8 of 10 at the first call, "
        "unaided, at none."
    )


def test_nine_reps_are_too_few_however_good() -> None:
    assert "first call" in unmet(steps(good(0, 9, 9), good(1, 9, 9))["distraction"])


def test_a_strong_sign_in_those_sessions_or_since_counts_against_even_in_doubt() -> None:
    bad = rep(11, "continuous", [4], "complied", [("yelped", "strong", 4)], state="check")
    marred = good(1)._replace(reps=(*good(1).reps, bad))
    step = steps(good(0), marred)["distraction"]
    assert unmet(step) == ["no strong sign", "little button"]
    assert found_in(step.criteria[2]) == "0 of 10, then 1 of 10, rising"
    since = session_digest([bad._replace(drill="stop")], 2)
    assert unmet(steps(good(0), good(1), since)["distraction"]) == ["no strong sign"]


def test_much_or_rising_button_is_not_ready_and_unsaid_is_not_none() -> None:
    assert steps(good(0, button=2), good(1, button=2))["distraction"].verdict == "ready"
    assert unmet(steps(good(0, button=1), good(1, button=2))["distraction"]) == ["little button"]
    three = steps(good(0, button=3), good(1, button=3))["distraction"]
    assert unmet(three) == ["first call", "little button"]
    unsaid = [
        one._replace(reps=tuple(r._replace(mode="unknown") for r in one.reps))
        for one in (good(0), good(1))
    ]
    step = steps(*unsaid)["distraction"]
    assert unmet(step) == ["first call", "little button"]
    assert "say 'no button' where none was used" in step_words(step)


def test_doubtful_reps_are_read_as_not_met() -> None:
    vague = good(1)._replace(reps=tuple(r._replace(state="check") for r in good(1).reps))
    first = steps(good(0), vague)["distraction"].criteria[0]
    assert not first.met
    assert found_in(first) == (
        "9 of 10 on 1 Mar 2031; 0 of 10 on 2 Mar 2031 (beside them came: 9 to check)"
    )


def calls(day: int, *more: RepDigest) -> SessionDigest:
    """Six calls answered with nothing, then these."""
    named = [one._replace(number=7 + n) for n, one in enumerate(more)]
    return session_digest([*(rep(n) for n in range(1, 7)), *named], day)


PRESSES = {
    "level": rep(1, "continuous", [2]),
    "tap": rep(1, "momentary", [2]),
    "vibrate": rep(1, "vibrate"),
    "tone": rep(1, "tone"),
}


@pytest.mark.parametrize("press", PRESSES.values(), ids=PRESSES)
def test_a_stimulus_of_any_kind_is_never_a_first_call(press: RepDigest) -> None:
    ignored = [rep(1, "none", [], "ignored")] * 2
    first = steps(*(calls(day, press, press, *ignored) for day in (0, 1)))["distraction"]
    assert "first call" in unmet(first)
    assert found_in(first.criteria[0]) == (
        "6 of 10 on 1 Mar 2031 (beside them came: 2 with a stimulus); "
        "6 of 10 on 2 Mar 2031 (beside them came: 2 with a stimulus)"
    )


@pytest.mark.parametrize(
    "not_met",
    [
        rep(1, state="check"),
        rep(1, outcome="unknown"),
        rep(1, outcome=None),
        rep(1, "unknown"),
        rep(1, cues=2),
        rep(1, "continuous", [2], cue=None, cues=0),
    ],
    ids=["doubtful", "outcome unknown", "outcome not said", "button not said", "two calls",
         "no call heard, pressed"],
)  # fmt: skip
def test_what_is_not_surely_a_first_call_stays_in_as_not_met(not_met: RepDigest) -> None:
    for passing, ready in ((2, True), (1, False)):
        days = [calls(day, *[rep(1)] * passing, *[not_met] * (4 - passing)) for day in (0, 1)]
        first = steps(*days)["distraction"].criteria[0]
        assert (first.met, found_in(first).startswith(f"{6 + passing} of 10")) == (ready, True)


def test_a_void_rep_is_left_out() -> None:
    days = [calls(day, *[rep(1)] * 4, rep(1, state="void")) for day in (0, 1)]
    assert found_in(steps(*days)["distraction"].criteria[0]).startswith("10 of 10")


def test_presses_up_to_the_cap_do_not_make_luck_likelier() -> None:
    """A dog that comes at every second call, pressed twice where it does not, is as seldom
    ready as one that is never pressed: 3 in 1,000 looks."""
    chance, looks = random.Random(7), 4000
    ready = 0
    for _ in range(looks):
        days = []
        for day in (0, 1):
            tries, pressed = [], 0
            for n in range(1, 11):
                alone = chance.random() < 0.5
                press = not alone and pressed < 2
                pressed += press
                outcome = "complied" if alone or press else "ignored"
                tries.append(
                    rep(n, "continuous", [2], outcome) if press else rep(n, "none", [], outcome)
                )
            days.append(session_digest(tries, day))
        ready += steps(*days)["distraction"].verdict == "ready"
    assert ready / looks < 0.008


def test_the_chance_of_luck_is_told_for_one_look_and_for_ten() -> None:
    step = steps(good(0), good(1))["distraction"]
    assert (round(step.chance, 3), round(step.chance_ten, 3)) == (0.003, 0.025)


def test_while_a_stop_stands_no_ladder_goes_on() -> None:
    stop = stopped(good(2, button=1), "over-ceiling")
    for step in steps(good(0), good(1), stop).values():
        assert step.verdict != "ready"
        assert "no stop stands" in unmet(step)
    assert steps(good(0), stop, good(3), good(4))["distraction"].verdict != "ready"
    corrected = stop._replace(matters=())
    assert steps(good(0), corrected, good(3), good(4))["distraction"].verdict == "ready"


def test_a_session_among_guns_with_the_button_is_not_an_easy_one() -> None:
    easy = session_digest([rep(n, drill="gun", shot_m=80.0) for n in range(1, 5)], 0)
    pressed = [rep(n, "continuous", [2], drill="gun", shot_m=80.0) for n in range(1, 5)]
    assert steps(easy, session_digest(pressed, 1))["gun"].verdict == "not yet"
    assert steps(easy, session_digest([*easy.reps, pressed[0]], 1))["gun"].verdict == "ready"


def test_nothing_said_of_distraction_cannot_be_judged() -> None:
    plain = [
        one._replace(reps=tuple(r._replace(distraction=None) for r in one.reps))
        for one in (good(0), good(1))
    ]
    step = steps(*plain)["distraction"]
    assert step.verdict == "not yet"
    assert "Say the distraction" in step_note(step)


def test_the_top_of_the_ladder_has_nothing_above_it() -> None:
    high = [
        one._replace(reps=tuple(r._replace(distraction="high") for r in one.reps))
        for one in (good(0), good(1))
    ]
    assert steps(*high)["distraction"].verdict == "at the top"


def test_birds_want_calls_at_medium_and_a_steady_dog_first() -> None:
    medium = [
        one._replace(
            reps=tuple(r._replace(distraction="medium") for r in one.reps)
            + tuple(rep(20 + n, drill="steady", cues=1) for n in range(10))
        )
        for one in (good(0), good(1))
    ]
    assert steps(*medium)["birds"].verdict == "ready"
    assert steps(good(0), good(1))["birds"].verdict == "not yet"


def test_among_birds_and_guns_two_easy_sessions_in_a_row_are_wanted() -> None:
    easy = [
        session_digest([rep(n, drill="gun", shot_m=80.0) for n in range(1, 5)], d) for d in (0, 1)
    ]
    flinch = rep(5, "none", [], "complied", [("flinched", "strong", None)], drill="gun")
    assert steps(*easy)["gun"].verdict == "ready"
    assert now_words(steps(*easy)["gun"]) == "last shot at 80 m"
    assert steps(*easy, session_digest([flinch], 2))["gun"].verdict == "not yet"
    assert criterion_words(steps(easy[0])["gun"].criteria[0]).missing == "1 more easy session"


def test_off_the_line_wants_a_trailing_line_and_no_help() -> None:
    trailing = [good(day, line="trailing") for day in (0, 1)]
    assert steps(*trailing)["off the line"].verdict == "ready"
    assert steps(good(0), good(1))["off the line"].verdict == "not yet"
    helped = good(1, line="trailing")
    helped = helped._replace(reps=(*helped.reps, rep(11, "none", [], "helped", line="trailing")))
    assert "by itself" in unmet(steps(trailing[0], helped)["off the line"])


def test_the_numbers_can_be_set() -> None:
    strict = Criteria(ready_passes=10, ready_sessions=3)
    assert steps(good(0), good(1), rules=strict)["distraction"].verdict == "not yet"


@given(st.integers(0, 300))
@settings(max_examples=20, deadline=None)
def test_taking_the_button_away_never_makes_a_dog_less_ready(seed: int) -> None:
    """The same reps without a press meet every criterion they met with it."""
    session_digests = Dog(seed, willing=0.7).sessions(8)
    free = [
        one._replace(
            reps=tuple(
                r._replace(mode="none", levels=(), signs=()) if r.mode in STIMULATION else r
                for r in one.reps
            )
        )
        for one in session_digests
    ]
    with_button, without = steps(*session_digests), steps(*free)
    for ladder, step in with_button.items():
        for one, other in zip(step.criteria, without[ladder].criteria, strict=True):
            assert other.met or not one.met


@given(st.integers(0, 300))
@settings(max_examples=20, deadline=None)
def test_no_word_of_readiness_asks_for_a_press(seed: int) -> None:
    for step in steps(*Dog(seed).sessions(6)).values():
        for words in (
            step_words(step),
            step_note(step),
            *(criterion_words(one).missing for one in step.criteria),
        ):
            assert not re.search(r"\b(press|push|higher level|turn up|increase|stronger)\b", words)


def test_a_steady_dog_needs_no_call() -> None:
    medium = [
        one._replace(
            reps=tuple(r._replace(distraction="medium") for r in one.reps)
            + tuple(rep(20 + n, drill="steady", cue=None, cues=0) for n in range(10))
        )
        for one in (good(0), good(1))
    ]
    assert steps(*medium)["birds"].verdict == "ready"
