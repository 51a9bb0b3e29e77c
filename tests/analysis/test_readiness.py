"""Readiness: criteria with numbers, none of which needs a press."""

from __future__ import annotations

import re
from datetime import date
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.analysis.dogs import Dog, good, rep, session_digest, stopped
from voicelog.analysis.criteria import Criteria
from voicelog.analysis.criterion import Criterion, EnoughEvidence, LastCalls
from voicelog.analysis.readiness import ReadinessStep, readiness
from voicelog.analysis.session_digest import RepDigest, SessionDigest
from voicelog.analysis.session_scope import scope_of
from voicelog.analysis.statistics.session_evidence import LUCK_IN_TEN, LUCK_IN_TWENTY
from voicelog.model import Transmitter
from voicelog.model.domain import STIMULATION
from voicelog.report.wording.readiness import (
    criterion_words,
    evidence_note,
    next_words,
    now_words,
    step_note,
    step_words,
    verdict_words,
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


def enough(**more: Any) -> list[SessionDigest]:
    """As many sessions of nine in ten as it takes."""
    return [good(day, **more) for day in range(10)]


def evidence(step: ReadinessStep) -> EnoughEvidence:
    one = step.criteria[0]
    assert isinstance(one, EnoughEvidence)
    return one


def test_ten_sessions_of_nine_in_ten_are_ready_and_nine_nearly() -> None:
    step = steps(*enough())["distraction"]
    assert (step.verdict, now_words(step), next_words(step)) == ("ready", "none", "low")
    assert evidence(step).points == 100
    assert len(step.criteria[0].reps) == 100
    nine = steps(*enough()[:9])["distraction"]
    assert (nine.verdict, unmet(nine)) == ("nearly", ["evidence"])
    assert steps(*enough()[:2])["distraction"].verdict == "not yet"


@pytest.mark.parametrize(("came", "needed"), [(10, 6), (9, 10), (8, 28)])
def test_the_better_it_comes_the_sooner_it_is_ready(came: int, needed: int) -> None:
    ready = [
        steps(*(good(day, came=came) for day in range(many)))["distraction"].verdict == "ready"
        for many in range(1, needed + 1)
    ]
    assert ready == [False] * (needed - 1) + [True]


def test_seven_in_ten_are_never_enough() -> None:
    step = steps(*(good(day, came=7) for day in range(40)))["distraction"]
    assert evidence(step).points == 0


def test_the_points_and_what_is_missing_are_said() -> None:
    step = steps(good(0, came=8), good(1))["distraction"]
    assert found_in(step.criteria[0]) == (
        "19 of 100 points: 8 of 10 calls unaided on 1 Mar 2031 (7 points); "
        "9 of 10 calls unaided on 2 Mar 2031 (13 points)"
    )
    assert step_words(step) == (
        "Not yet ready for low; missing: about 9 more sessions with 9 of 10 calls unaided (about "
        "24 sessions with 8 of 10), at none."
    )
    assert (
        steps(good(0, came=8), good(1), *(good(2 + n) for n in range(9)))["distraction"].verdict
        == "ready"
    )


def test_after_a_bad_session_it_falls_back_and_says_so() -> None:
    bad = steps(*enough(), good(10, came=4))["distraction"]
    assert bad.verdict == "not yet"
    assert step_words(bad).startswith("Fell back, and not ready any more for low; missing: about 4")
    assert "there was enough on 10 Mar 2031, and the calls since took it back" in found_in(
        bad.criteria[0]
    )
    again = steps(*enough(), good(10, came=4), *(good(11 + n) for n in range(4)))["distraction"]
    assert again.verdict == "ready"
    assert "Fell back" not in step_words(again)


def test_however_good_it_was_the_last_ten_calls_have_to_be_good() -> None:
    days = [*(good(day, came=10) for day in range(20)), good(20, came=4, of=5), good(21, 3, 5)]
    step = steps(*days)["distraction"]
    assert unmet(step) == ["evidence", "last calls"]
    short = steps(*(good(day, came=3, of=3) for day in range(3)))["distraction"]
    last = next(one for one in short.criteria if isinstance(one, LastCalls))
    assert (last.met, last.found, last.among) == (False, 9, 9)


def test_sessions_of_three_calls_are_enough_when_there_are_more_of_them() -> None:
    days = [good(day, came=3, of=3) for day in range(8)]
    assert steps(*days)["distraction"].verdict == "ready"
    assert unmet(steps(*days[:7])["distraction"]) == ["evidence"]


def test_a_day_taken_in_parts_is_one_session() -> None:
    whole = [good(day, came=10, of=12) for day in range(5)]
    parts = [
        one._replace(session=f"{one.session}{part}", reps=one.reps[6 * part : 6 * part + 6])
        for one in whole
        for part in (0, 1)
    ]
    assert [
        evidence(steps(*days)["distraction"]).points for days in (whole, parts)
    ] == pytest.approx([evidence(steps(*whole)["distraction"]).points] * 2)


def test_what_is_long_ago_or_has_no_date_says_nothing_of_today() -> None:
    later = good(80)
    step = steps(*enough(), later)["distraction"]
    assert evidence(step).old == 10
    assert found_in(step.criteria[0]) == (
        "18 of 100 points: 9 of 10 calls unaided on 20 May 2031 (18 points); "
        "not counted: 10 sessions too long ago"
    )
    assert steps(*enough(), today=date(2031, 4, 25))["distraction"].verdict == "ready"
    assert steps(*enough(), today=date(2031, 6, 1))["distraction"].verdict == "not yet"
    undated = [one._replace(began=None) for one in enough()]
    step = steps(*undated, good(10))["distraction"]
    assert evidence(step).undated == 10
    assert "10 sessions without a date" in found_in(step.criteria[0])
    assert evidence(steps(*undated)["distraction"]).points == 0


def test_a_strong_sign_in_the_last_sessions_or_since_counts_against_even_in_doubt() -> None:
    bad = rep(11, "continuous", [4], "complied", [("yelped", "strong", 4)], state="check")
    marred = good(10)._replace(reps=(*good(10).reps, bad))
    step = steps(*enough(), marred)["distraction"]
    assert unmet(step) == ["no strong sign", "little button"]
    assert found_in(step.criteria[3]) == "0 of 10, then 1 of 10, rising"
    since = session_digest([bad._replace(drill="stop")], 11)
    assert unmet(steps(*enough(), since)["distraction"]) == ["no strong sign"]


def test_much_or_rising_button_is_not_ready_and_unsaid_is_not_none() -> None:
    fresh = [good(day, came=10) for day in range(6)]
    pressed = [good(6 + n, came=10, button=2) for n in range(2)]
    assert steps(*fresh, *pressed)["distraction"].verdict == "ready"
    rising = [good(6, came=10, button=1), good(7, came=10, button=2)]
    assert unmet(steps(*fresh, *rising)["distraction"]) == ["little button"]
    three = steps(*fresh, good(6, button=3), good(7, button=3))["distraction"]
    assert unmet(three) == ["evidence", "last calls", "little button"]
    unsaid = [
        one._replace(reps=tuple(r._replace(mode="unknown") for r in one.reps)) for one in enough()
    ]
    step = steps(*unsaid)["distraction"]
    assert unmet(step) == ["evidence", "last calls", "little button"]
    assert "say 'no button' where none was used" in step_words(step)


def test_doubtful_reps_are_read_as_not_met_and_shown() -> None:
    vague = good(10)._replace(reps=tuple(r._replace(state="check") for r in good(10).reps))
    first = evidence(steps(*enough(), vague)["distraction"])
    assert not first.met
    assert found_in(first).split("; ")[-3:-1] == [
        "0 of 10 calls unaided on 11 Mar 2031 (122 points taken off",
        "not met: 10 to check)",
    ]


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
    assert "evidence" in unmet(first)
    assert found_in(first.criteria[0]) == (
        "0 of 100 points: "
        "6 of 10 calls unaided on 1 Mar 2031 (16 points taken off; not met: 2 with a stimulus); "
        "6 of 10 calls unaided on 2 Mar 2031 (16 points taken off; not met: 2 with a stimulus)"
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
    days = [calls(day, *[rep(1)] * 2, *[not_met] * 2) for day in (0, 1)]
    step = steps(*days)["distraction"]
    assert [(one.met, one.of) for one in evidence(step).counts] == [(8, 10), (8, 10)]
    last = step.criteria[1]
    assert isinstance(last, LastCalls)
    assert (last.found, last.among) == (8, 10)


def test_a_void_rep_is_left_out() -> None:
    days = [calls(day, *[rep(1)] * 4, rep(1, state="void")) for day in (0, 1)]
    assert [one.of for one in evidence(steps(*days)["distraction"]).counts] == [10, 10]


def test_presses_where_it_does_not_come_make_no_dog_ready() -> None:
    """A dog that comes at six calls in ten, pressed at every other: came 10 of 10, never ready."""
    days = [good(day, came=10, button=4) for day in range(20)]
    assert evidence(steps(*days)["distraction"]).points == 0


def test_the_chance_of_luck_is_told_for_twenty_looks_and_for_ten() -> None:
    step = steps(good(0), good(1))["distraction"]
    assert (step.chance, step.chance_ten) == (LUCK_IN_TWENTY, LUCK_IN_TEN)
    assert "in at most 5% of simulated cases within 20 sessions" in evidence_note(step)


def test_while_a_stop_stands_no_ladder_goes_on() -> None:
    stop = stopped(good(6, button=1), "over-ceiling")
    for step in steps(*enough(), stop).values():
        assert step.verdict != "ready"
        assert "no open stop" in unmet(step)
    assert steps(*enough(), stop, good(7), good(8))["distraction"].verdict != "ready"
    corrected = stop._replace(matters=())
    assert steps(*enough(), corrected, good(7), good(8))["distraction"].verdict == "ready"


def test_a_session_among_guns_with_the_button_is_not_an_easy_one() -> None:
    easy = [
        session_digest([rep(n, drill="gun", shot_m=80.0) for n in range(1, 6)], day)
        for day in range(6)
    ]
    pressed = [rep(n, "continuous", [2], drill="gun", shot_m=80.0) for n in range(1, 6)]
    assert unmet(steps(*easy, session_digest(pressed, 6))["gun"]) == ["evidence", "easy sessions"]
    one = session_digest([*easy[0].reps, *easy[0].reps, pressed[0]], 6)
    assert steps(*easy, one)["gun"].verdict == "ready"


def test_nothing_said_of_distraction_cannot_be_judged() -> None:
    plain = [
        one._replace(reps=tuple(r._replace(distraction=None) for r in one.reps)) for one in enough()
    ]
    step = steps(*plain)["distraction"]
    assert step.verdict == "not yet"
    assert "Say the distraction" in step_note(step)
    assert verdict_words(step) == "No step can be judged yet."


def at_high(*weeks: SessionDigest) -> list[SessionDigest]:
    return [
        one._replace(reps=tuple(r._replace(distraction="high") for r in one.reps)) for one in weeks
    ]


def test_the_top_of_the_ladder_has_nothing_above_it() -> None:
    step = steps(*at_high(*enough()))["distraction"]
    assert (step.verdict, now_words(step)) == ("at the top", "high")
    assert step_words(step) == "The top of the ladder, its criteria met: nothing is above it."


def test_a_dog_that_only_works_at_the_top_is_not_said_to_be_ready_for_it() -> None:
    ignoring = at_high(good(0, came=2, of=6))
    for weeks in (ignoring, [stopped(ignoring[0], "skin")]):
        step = steps(*weeks)["distraction"]
        assert (step.verdict, step.at, step.next) == ("not yet", "high", "")
        assert step_words(step) == (
            "The top of the ladder. Not yet shown to be ready for it: 2 of the last 6 calls there "
            "unaided."
        )
    one_off = at_high(*enough()[:9])  # nearly, on a lower rung
    assert steps(*one_off)["distraction"].verdict == "not yet"
    fallen = steps(*at_high(*enough(), good(10, came=2)))["distraction"]
    assert step_words(fallen).startswith("The top of the ladder. Fell back, and not shown")
    later = steps(*at_high(*enough()), today=date(2032, 3, 1))["distraction"]
    assert step_words(later).endswith("ready for it: its calls there are too long ago, or without "
                                      "a date.")  # fmt: skip


def test_birds_want_calls_at_medium_and_a_steady_dog_first() -> None:
    medium = [
        one._replace(
            reps=tuple(r._replace(distraction="medium") for r in one.reps)
            + tuple(rep(20 + n, drill="steady", cues=1) for n in range(10))
        )
        for one in enough()
    ]
    assert steps(*medium)["birds"].verdict == "ready"
    assert steps(*enough())["birds"].verdict == "not yet"


def test_little_button_is_asked_only_where_there_is_one() -> None:
    bare = [one._replace(transmitter=Transmitter()) for one in enough()]
    asked = [criterion_words(one).name for one in steps(*enough())["distraction"].criteria]
    assert [criterion_words(one).name for one in steps(*bare)["distraction"].criteria] == asked[:-1]
    assert asked[-1] == "little button"


def test_a_dog_that_met_game_without_work_on_it_is_not_one_that_never_met_any() -> None:
    assert steps(*enough())["birds"].state == "not begun"
    first, *others = enough()
    met = steps(first._replace(game=True), *others)["birds"]
    assert (met.state, met.criteria) == ("met", steps(*enough())["birds"].criteria)
    assert now_words(met) == "met birds, no work on them yet"
    assert next_words(met) == "a dead bird"


def test_among_birds_and_guns_two_easy_sessions_in_a_row_are_wanted() -> None:
    easy = [
        session_digest([rep(n, drill="gun", shot_m=80.0) for n in range(1, 6)], d) for d in range(6)
    ]
    flinch = rep(5, "none", [], "complied", [("flinched", "strong", None)], drill="gun")
    assert steps(*easy)["gun"].verdict == "ready"
    assert now_words(steps(*easy)["gun"]) == "last shot at 80 m, stage not reached (profile)"
    assert steps(*easy, session_digest([flinch], 6))["gun"].verdict == "nearly"
    assert criterion_words(steps(easy[0])["gun"].criteria[1]).missing == "1 more easy session"


def test_off_the_line_wants_a_trailing_line_and_no_help() -> None:
    trailing = enough(line="trailing")
    assert steps(*trailing)["off the line"].verdict == "ready"
    assert steps(*enough())["off the line"].verdict == "not yet"
    helped = good(10, line="trailing")
    helped = helped._replace(reps=(*helped.reps, rep(11, "none", [], "helped", line="trailing")))
    assert unmet(steps(*trailing, helped)["off the line"]) == ["by itself"]


def test_the_numbers_can_be_set() -> None:
    assert unmet(steps(*enough(), rules=Criteria(ready_passes=10))["distraction"]) == ["last calls"]
    few = [good(day, came=10) for day in range(4)]
    assert unmet(steps(*few, rules=Criteria(ready_sessions=5))["distraction"]) == [
        "evidence", "no strong sign", "little button",
    ]  # fmt: skip
    gone = steps(*enough(), rules=Criteria(ready_days=14), today=date(2031, 3, 19))["distraction"]
    assert evidence(gone).old == 4


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
        for one in enough()
    ]
    assert steps(*medium)["birds"].verdict == "ready"
