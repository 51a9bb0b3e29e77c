"""The limits of a plan: what evidence they rest on, what cannot buy a higher one, how they fade."""

from __future__ import annotations

import random
import re
from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.analysis.dogs import FIRST, UNIT, good, rep, session_digest
from tests.analysis.hostile_histories import FINE, hostile_history, plan_faults
from tests.safety.build import Field
from voicelog.analysis.criteria import Criteria
from voicelog.analysis.plan import Plan, plan
from voicelog.analysis.session_digest import RepDigest, SessionDigest, digest_session
from voicelog.model import Dog, Transmitter
from voicelog.report.plan_paper import plan_section

RULES = Criteria()
JUNO = Dog(name="Juno", transmitter=UNIT)


def planned(*sessions: SessionDigest, day: int = 3, dog: Dog = JUNO) -> Plan:
    return plan(sessions, dog, RULES, (FIRST + timedelta(days=day)).date())


def limits(*sessions: SessionDigest, **more: Any) -> tuple[int | None, int | None, bool]:
    one = planned(*sessions, **more)
    return one.start, one.most, one.thin


def answered(number: int, *levels: int, **more: Any) -> RepDigest:
    return rep(number, "continuous", levels, "complied", **more)


def paper(one: Plan) -> str:
    return "\n".join(line.words for line in plan_section(one).lines)


# --- evidence --------------------------------------------------------------------------


def test_a_cap_is_not_bought_by_pressing() -> None:
    threes = [answered(n, 3) for n in range(1, 5)]
    pressed = [rep(n, "continuous", [12], "ignored") for n in range(5, 15)]
    assert limits(session_digest(threes)) == (3, 4, False)
    assert limits(session_digest([*threes, *pressed[:3]])) == (3, 4, False)
    assert limits(session_digest([*threes, *pressed])) == (1, 2, True)  # a day that went badly


def test_what_was_rolled_back_does_not_raise_the_cap() -> None:
    assert limits(session_digest([answered(n, 9, 3) for n in range(1, 5)])) == (3, 4, False)


def test_one_odd_answer_raises_no_limit() -> None:
    threes = [answered(n, 3) for n in range(1, 5)]
    assert limits(session_digest([*threes, answered(5, 19)])) == (3, 4, False)


def test_a_level_of_the_other_mode_in_the_same_rep_is_no_evidence() -> None:
    field = Field(JUNO).say("drill recall distraction none")
    for level in (3, 4, 5):
        field.wait(30).say("here").wait(3).say("tap 9").wait(3).say(f"level {level}")
        field.wait(3).say("came")
    digest = digest_session(field.session(), (), FIRST)
    assert [(one.levels, one.mixed) for one in digest.reps] == [
        ((9, level), True) for level in (3, 4, 5)
    ]
    assert limits(digest) == (1, 2, True)


def test_three_levels_each_answered_once_are_thin() -> None:
    assert limits(session_digest([answered(1, 2), answered(2, 3), answered(3, 9)])) == (1, 2, True)


def test_what_was_answered_lower_twice_lowers_the_start() -> None:
    lower = [answered(1, 2), answered(2, 3)]
    nines = [answered(n, 9) for n in (3, 4, 5)]
    assert limits(session_digest([*lower, *nines]))[0] == 3


def test_a_level_answered_lower_at_a_harder_distraction_lowers_the_start() -> None:
    easy = [answered(n, 5) for n in (1, 2, 3)]
    hard = [answered(n, 2, distraction="high") for n in (4, 5, 6)]
    assert limits(session_digest([*easy, *hard])) == (2, 6, False)


def test_stress_does_not_raise_the_cap_but_does_not_hide_an_answer() -> None:
    twos = [answered(n, 2) for n in (1, 2, 3)]
    tense = [answered(n, 9, stress=True) for n in (4, 5, 6)]
    assert limits(session_digest([*twos, *tense])) == (2, 3, False)


def test_an_answer_with_a_strong_sign_is_no_evidence() -> None:
    strong = answered(3, 4, signs=[("yelped", "strong", 4)])
    assert limits(session_digest([answered(1, 4), answered(2, 4), strong]), good(1)) == (1, 2, True)


def test_levels_that_the_dial_lacks_are_no_evidence() -> None:
    assert limits(session_digest([answered(n, 25) for n in (1, 2, 3)])) == (1, 2, True)


def test_a_roll_back_below_the_dial_is_its_lowest_level() -> None:
    assert limits(session_digest([answered(n, 3, 0) for n in range(1, 5)])) == (1, 2, False)


def test_a_transmitter_not_met_before_starts_at_its_lowest() -> None:
    new = JUNO.model_copy(update={"transmitter": Transmitter(top=127, lowest=2)})
    assert limits(good(0, button=4, level=6), dog=new) == (2, 3, True)


# --- ceilings --------------------------------------------------------------------------


@pytest.mark.parametrize("change", [{"cutoff_s": 8.0}, {"step": 1}, {"modes": ("continuous",)}])
def test_an_edit_of_the_profile_lifts_no_ceiling(change: dict[str, Any]) -> None:
    yelped = session_digest([rep(1, "continuous", [3], "complied", [("yelped", "strong", 3)])], 0)
    dog = JUNO.model_copy(update={"transmitter": UNIT.model_copy(update=change)})
    assert limits(yelped, good(1), good(2), dog=dog)[:2] == (1, 1)


def test_a_top_that_is_given_later_lifts_no_ceiling() -> None:
    yelped = session_digest(
        [rep(1, "continuous", [3], "complied", [("yelped", "strong", 3)])],
        0,
        transmitter=Transmitter(),
    )
    assert limits(yelped, good(1), good(2))[:2] == (1, 1)


def test_sessions_on_another_transmitter_lift_no_ceiling() -> None:
    yelped = session_digest([rep(1, "continuous", [1], "complied", [("yelped", "strong", 1)])], 0)
    assert planned(yelped, good(1)._replace(transmitter=FINE)).button is False


# --- fading ----------------------------------------------------------------------------


def test_the_start_goes_down_a_step_for_every_two_weeks_and_says_so() -> None:
    worked = good(0, button=4, level=6)
    starts = [limits(worked, day=7 * weeks) for weeks in (1, 2, 3, 4, 6, 40)]
    assert [start for start, _, _ in starts] == [6, 5, 5, 4, 3, 1]
    assert [most for _, most, _ in starts] == [7, 6, 6, 5, 4, 2]
    assert "4 weeks old (1 Mar 2031), and one step is taken off" in paper(planned(worked, day=28))


def test_one_odd_press_does_not_renew_what_has_faded() -> None:
    worked = good(0, button=4, level=6)
    odd = session_digest([answered(1, 6)], 55)
    assert limits(worked, odd, day=56)[0] == limits(worked, day=56)[0] == 2


def test_work_without_the_button_or_in_the_other_mode_does_not_renew_it() -> None:
    worked = good(0, button=4, level=6)
    taps = session_digest([rep(n, "momentary", [6]) for n in range(1, 8)], 54)
    assert limits(worked, taps, good(55), day=56)[0] == 2


def test_a_day_not_known_or_after_today_is_long_ago() -> None:
    undated = good(0, button=4, level=6)._replace(began=None)
    assert limits(undated) == (1, 2, True)
    assert "is not known" in paper(planned(undated))
    assert limits(good(900, button=4, level=6)) == (1, 2, True)


def test_a_ceiling_never_fades() -> None:
    yelped = session_digest([rep(1, "continuous", [4], "complied", [("yelped", "strong", 4)])], 0)
    worked = (good(1), good(2, button=4, level=2))
    assert [limits(yelped, *worked, day=day)[1] for day in (3, 16, 900)] == [2, 2, 2]


# --- words -----------------------------------------------------------------------------


@given(st.integers(0, 10_000))
@settings(max_examples=60, deadline=None)
def test_a_level_appears_only_as_one_never_to_pass(seed: int) -> None:
    history = hostile_history(seed)
    one = plan(history.sessions, history.dog, RULES, history.today)
    lines = [line for line in plan_section(one).lines if line.mark != "stop"]
    if one.session:
        assert lines[0].words.startswith("Recall without the button")
    for line in lines:
        for found in re.finditer(r"(\S+ \S+) (?:at )?level \d+", line.words):
            assert "strong sign" in line.words, found.group()
        if one.button and line.label == "button":
            numbers = re.findall(r"(\w+ \w+) (\d+)", line.words)
            assert numbers
            assert {before for before, _ in numbers} == {"never above"}


# --- over random histories -------------------------------------------------------------


@given(st.integers(0, 1_000_000))
@settings(max_examples=200, deadline=None)
def test_the_start_is_never_above_what_was_answered_nor_the_ceiling(seed: int) -> None:
    history = hostile_history(seed)
    one = plan(history.sessions, history.dog, RULES, history.today)
    assert plan_faults(history, one, RULES) == []


@given(st.integers(0, 1_000_000))
@settings(max_examples=60, deadline=None)
def test_no_rep_that_was_not_answered_moves_a_limit(seed: int) -> None:
    history = hostile_history(seed)
    chance = random.Random(seed)

    def pressed_harder(one: RepDigest) -> RepDigest:
        if one.came or one.strong or not one.levels:
            return one
        return one._replace(levels=(*one.levels, chance.randint(1, 20)))

    harder = [
        s._replace(reps=tuple(map(pressed_harder, s.reps)), ceiling=s.ceiling)
        for s in history.sessions
    ]
    as_it_was = plan(history.sessions, history.dog, RULES, history.today)
    after = plan(harder, history.dog, RULES, history.today)
    assert (as_it_was.start or 0, as_it_was.most or 0) >= (after.start or 0, after.most or 0)


@given(st.integers(0, 1_000_000))
@settings(max_examples=60, deadline=None)
def test_no_pause_raises_a_limit(seed: int) -> None:
    dog, sessions, _ = hostile_history(seed)
    last = max((one.began for one in sessions if one.began), default=FIRST).date()
    days: list[date] = [last + timedelta(weeks=weeks) for weeks in (0, 3, 10, 60)]
    found = [plan(sessions, dog, RULES, day) for day in days]
    for limit in ("start", "most"):
        values = [getattr(one, limit) or 0 for one in found]
        assert values == sorted(values, reverse=True)
