"""The plan: never above the evidence, never above the ceiling, and sometimes no session."""

from __future__ import annotations

import re
from collections import Counter
from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.analysis.dogs import FIRST, UNIT, Dog, closed, good, rep, session_digest, stopped
from tests.known import known
from voicelog.analysis.criteria import Criteria
from voicelog.analysis.open_matters import open_matters
from voicelog.analysis.plan import Plan, plan
from voicelog.analysis.session_digest import RepDigest, RepState, SessionDigest
from voicelog.model import Dog as Profile
from voicelog.model import Transmitter
from voicelog.model.aggression import AGGRESSION_SIGNS
from voicelog.model.dial import level_above, step_down
from voicelog.model.domain import DISTRACTION_LADDER, STIMULATION
from voicelog.report.wording.reasons import aim_words, reason_words, warm_up_words
from voicelog.safety.advice import PROFESSIONAL

RULES = Criteria()
JUNO = Profile(name="Juno", transmitter=UNIT)


def on(day: int) -> date:
    return (FIRST + timedelta(days=day)).date()


def planned(*session_digests: SessionDigest, day: int = 10, dog: Profile = JUNO) -> Plan:
    return plan(session_digests, dog, RULES, on(day))


def words(one: Plan) -> str:
    return " ".join(reason_words(reason) for reason in (*one.why, *one.watch))


def answered(number: int, level: int, **more: Any) -> RepDigest:
    return rep(number, "continuous", [level], "complied", **more)


# --- start and ceiling -----------------------------------------------------------------


def test_thin_evidence_starts_at_the_lowest_level() -> None:
    for session_digests in ([], [good(0)], [good(0, button=2, level=6)]):
        one = planned(*session_digests)
        assert (one.button, one.start, one.thin) == (True, 1, True)


def test_a_level_answered_three_times_is_where_to_start() -> None:
    one = planned(good(0, button=3, level=4))
    assert (one.start, one.most, one.thin) == (4, 5, False)
    reps = next(
        reason.reps for reason in one.why if "at that or a lower level" in reason_words(reason)
    )
    assert reps == ("s0.8", "s0.9", "s0.10")


def test_start_and_cap_come_from_one_mode_and_drill() -> None:
    twos = [answered(n, 2) for n in (1, 2)]
    taps = [rep(n, "momentary", [8]) for n in (3, 4, 5)]
    one = planned(session_digest([*twos, *taps]))
    assert (one.mode, one.start, one.most, one.thin) == ("continuous", 1, 2, True)
    tapped = planned(session_digest([*twos, *taps]), dog=JUNO.model_copy(update={"default_mode":
        "momentary"}))  # fmt: skip
    assert (tapped.mode, tapped.start, tapped.most) == ("momentary", 8, 9)
    place = [answered(n, 8, drill="place") for n in (3, 4, 5)]
    other = planned(session_digest([*twos, *place]))
    assert (other.start, other.most) == (1, 2)


def test_one_odd_entry_moves_neither_start_nor_cap() -> None:
    twos = [answered(n, 2) for n in range(1, 7)]
    for odd in (answered(7, 15), rep(7, "continuous", [2, 15]), rep(7, "continuous", [15], None)):
        one = planned(session_digest([*twos, odd]))
        assert (one.start, one.most) == (2, 3)
    one = planned(session_digest([*twos, answered(7, 1)]))
    assert (one.start, one.most) == (2, 3)


def test_a_mode_that_the_transmitter_lacks_is_not_planned() -> None:
    unit = Transmitter(top=20, modes=("momentary",))
    dog = Profile(name="Juno", transmitter=unit)
    taps = [rep(n, "momentary", [4]) for n in (1, 2, 3)]
    one = planned(session_digest(taps, transmitter=unit), dog=dog)
    assert (one.mode, one.start) == ("momentary", 4)


def test_what_was_answered_at_a_harder_distraction_is_no_evidence() -> None:
    reps = [answered(11 + n, 4, distraction="high") for n in range(3)]
    mixed = good(0)._replace(reps=(*good(0).reps, *reps))
    assert planned(mixed, good(1, came=6)).start == 1


def test_doubtful_answers_are_no_evidence_and_levels_of_another_unit_neither() -> None:
    vague = good(0, button=3, level=4, state="check")
    assert planned(vague).start == 1
    other = good(0, button=3, level=4)._replace(transmitter=Transmitter(top=100))
    assert planned(other, good(1)).start == 1


def test_a_profile_with_a_new_transmitter_starts_anew_and_says_so() -> None:
    one = planned(good(0, button=3, level=4), dog=Profile(name="Juno"))
    assert (one.start, one.thin) == (1, True)
    assert "levels start over" in words(one)


def test_the_ceiling_of_reps_and_profile_holds() -> None:
    strong = session_digest([rep(1, "continuous", [4], "complied", [("yelped", "strong", 4)])], 0)
    later = [good(day, button=3, level=4) for day in (2, 3)]
    one = planned(strong, good(1), *later)
    assert (one.start, one.most) == (2, 2)
    capped = planned(*later, dog=Profile(name="Juno", transmitter=UNIT, ceiling=3))
    assert (capped.start, capped.most) == (3, 3)


def test_no_level_left_means_no_button() -> None:
    strong = session_digest([rep(1, "continuous", [1], "complied", [("yelped", "strong", 1)])], 0)
    one = planned(strong, good(1))
    assert (one.button, one.start, one.most) == (False, None, None)


HEARD: tuple[RepState, ...] = ("sure", "sure", "sure", "check", "void")


@st.composite
def histories(draw: st.DrawFn) -> list[SessionDigest]:
    """Sessions of a simulated dog, with some reps doubtful or void, some on another unit."""
    dog = Dog(
        draw(st.integers(0, 10_000)),
        answers=draw(st.floats(1.0, 9.0)),
        stress=draw(st.floats(4.0, 20.0)),
        willing=draw(st.floats(0.1, 0.9)),
    )
    found = []
    for one in dog.sessions(draw(st.integers(0, 10)), draw(st.integers(1, 14))):
        heard = draw(st.sampled_from(HEARD))
        unit = draw(st.sampled_from([UNIT, UNIT, UNIT, Transmitter(top=100)]))
        reps = tuple(r._replace(state=heard) if n % 3 == 0 else r for n, r in enumerate(one.reps))
        found.append(one._replace(reps=reps, transmitter=unit))
    return found


@given(histories(), st.sampled_from([None, 1, 3, 6, 12]))
@settings(max_examples=150, deadline=None)
def test_the_plan_never_starts_above_the_evidence_nor_above_the_ceiling(
    session_digests: list[SessionDigest], cap: int | None
) -> None:
    dog = Profile(name="Juno", transmitter=UNIT, ceiling=cap)
    one = plan(session_digests, dog, RULES, on(60))
    if one.start is None or one.most is None:
        assert not one.button
        return
    same = session_digests if session_digests and session_digests[-1].transmitter == UNIT else []
    reps = [r for s in same if s.transmitter == UNIT for r in s.reps]
    easier = DISTRACTION_LADDER[: DISTRACTION_LADDER.index(one.distraction) + 1]
    answers = Counter(
        max(r.levels)
        for r in reps
        if r.state == "sure" and r.came and r.mode in STIMULATION and r.distraction in easier
    )
    enough = [level for level, many in answers.items() if many >= RULES.answered_reps]
    assert one.start <= (max(enough) if enough else UNIT.lowest)
    signs = [
        s.level for r in reps if r.state != "void" for s in r.signs
        if s.class_ == "strong" and s.level is not None
    ]  # fmt: skip
    if signs:
        assert one.most <= min(signs) - step_down(UNIT, min(signs))
    if cap is not None:
        assert one.most <= cap
    own = [r for r in reps if r.state == "sure" and r.drill == "recall" and r.mode == one.mode]
    peaks = sorted(
        (max(r.levels) for r in own if r.levels and r.distraction in easier), reverse=True
    )
    met = peaks[RULES.answered_reps - 1 : RULES.answered_reps]
    assert one.most <= level_above(UNIT, max([UNIT.lowest, *met]))
    assert UNIT.lowest <= one.start <= one.most <= known(UNIT.top)


@given(histories())
@settings(max_examples=30, deadline=None)
def test_no_plan_asks_for_a_press(session_digests: list[SessionDigest]) -> None:
    one = plan(session_digests, JUNO, RULES, on(60))
    text = " ".join((warm_up_words(one.warm_up), aim_words(one.aim), words(one)))
    assert not re.search(r"\b(press|push|higher|turn up|increase|stronger|harder)\b", text)


# --- no session, no button -------------------------------------------------------------


def test_enough_sessions_today_mean_none() -> None:
    two = [good(3), good(3)._replace(session="evening", start_s=9000.0)]
    assert planned(*two, day=3).session is False
    assert planned(two[0], day=3).session is True
    assert planned(*two, day=4).session is True


def test_a_strong_sign_or_a_stop_today_ends_the_day() -> None:
    strong = session_digest([rep(1, "continuous", [3], "complied", [("froze", "strong", 3)])], 5)
    one = planned(strong, day=5)
    assert one.session is False
    assert one.why[0].reps == ("s5.1",)
    assert planned(stopped(good(5), "heat"), day=5).session is False


@pytest.mark.parametrize("sign", sorted(AGGRESSION_SIGNS))
def test_after_a_growl_or_a_bite_there_is_no_session_before_a_professional_was_asked(
    sign: str,
) -> None:
    bitten = session_digest([rep(1, "continuous", [3], "complied", [(sign, "strong", 3)])], 5)
    one = planned(good(4), bitten, day=6)
    assert one.session is False
    assert PROFESSIONAL in words(one)
    assert "easy session" not in words(one)


def test_a_stop_of_today_stands_until_it_is_closed() -> None:
    bad = stopped(good(0)._replace(skin="red")), stopped(good(1), "skin")
    assert "A stop of today stands (red or sore skin)." in words(planned(*bad, day=1))
    assert (
        "The skin was not said to be clear before the collar was put on or used on 2 Mar 2031 "
        "(red on 1 Mar 2031), and that is open"
    ) in words(planned(*bad, day=1))
    every = [one for some in bad for one in some.matters]
    done = open_matters(every, [closed([one], id=one.session) for one in every], on(1))
    one = plan(bad, JUNO, RULES, on(1), matters=done)
    assert one.session is False
    assert "A stop today was closed (red or sore skin): no more work today." in words(one)


def test_of_skin_that_was_noted_as_clear_since_it_is_said_that_a_person_still_has_to_close_it() -> (
    None
):
    bad = stopped(good(0)._replace(skin="red"))
    clear = good(1)._replace(skin="clear")
    assert "and that is open: no collar until clear" in words(planned(bad, day=1))
    assert (
        'The skin was red on 1 Mar 2031. "Skin clear" was noted on 2 Mar 2031; the matter is still '
        "open, and the collar stays off, until a person closes it, with a reason."
    ) in words(planned(bad, clear, day=2))


def test_the_session_after_a_strong_sign_goes_without_the_button() -> None:
    strong = session_digest([rep(1, "continuous", [8], "complied", [("froze", "strong", 8)])], 5)
    one = planned(good(4), strong, day=6)
    assert (one.session, one.button) == (True, False)
    assert "froze" in words(one)
    assert planned(good(4), strong, good(6), day=7).button is True


def test_neither_one_call_nor_a_session_with_the_button_is_the_easy_session() -> None:
    strong = session_digest([rep(1, "continuous", [8], "complied", [("froze", "strong", 8)])], 5)
    for reps in (
        [rep(1)],
        [rep(number) for number in range(1, 4)] + [answered(4, 1)],
        [rep(number, state="doubtful") for number in range(1, 4)],
        [rep(number, "unknown") for number in range(1, 4)],
        [rep(number) for number in range(1, 4)] + [rep(4, "vibrate")],
    ):
        one = planned(good(4), strong, session_digest(reps, 6), day=7)
        assert one.button is False
        assert "froze" in words(one)
    easy = session_digest([rep(number) for number in range(1, 4)], 6)
    assert planned(good(4), strong, easy, day=7).button is True
    assert planned(good(4), strong, easy, session_digest([answered(1, 1)], 7), day=8).button


@pytest.mark.parametrize(
    ("skin", "session", "button"), [("red", True, False), ("sore", False, False)]
)
def test_skin_that_is_not_clear_keeps_the_collar_off(
    skin: str, session: bool, button: bool
) -> None:
    bad = stopped(good(0)._replace(skin=skin))
    for later in (good(1), good(1)._replace(skin="clear")):  # clear by voice closes nothing
        one = planned(bad, later)
        assert (one.session, one.button) == (session, button)
    found = open_matters(bad.matters, [closed(bad.matters)], on(9))
    one = plan([bad, good(1)], JUNO, RULES, on(9), matters=found)  # and a closing clears no skin
    assert (one.session, one.button) == (True, False)
    assert f"The skin was {skin} on 1 Mar 2031; no note since says it is clear. Look" in words(one)
    clear = good(1)._replace(skin="clear")
    assert plan([bad, clear], JUNO, RULES, on(9), matters=found).button is True
    since = [good(day) for day in range(2, 40)]
    assert plan([bad, *since], JUNO, RULES, on(40), matters=found).button is False


def test_a_dog_too_young_works_without_the_button() -> None:
    pup = Profile(name="Juno", transmitter=UNIT, born=on(-100))
    assert planned(good(0), dog=pup).button is False
    assert planned(good(0), dog=pup).reps == RULES.plan_reps_pup


# --- stops -----------------------------------------------------------------------------


def stop_on(day: int, rule: str = "over-ceiling", **more: Any) -> SessionDigest:
    return stopped(good(day, button=2, **more), rule)


@pytest.mark.parametrize("rule", ["over-ceiling", "heat", "gun", "bird", "skin", "stress-twice"])
def test_a_stop_of_the_last_session_means_no_button_and_no_step(rule: str) -> None:
    good_days = [good(day) for day in range(0, 20, 2)]
    assert planned(*good_days).distraction == "low"
    one = planned(*good_days, stop_on(20, rule))
    assert (one.session, one.button, one.start, one.most) == (True, False, None, None)
    assert one.distraction == "none"
    assert [reason.day for reason in one.stops] == [on(20)]
    assert "on 21 Mar 2031: open." in reason_words(one.stops[0])
    assert "no button until a person closes it, with a reason" in words(one)


def test_after_a_stop_the_work_is_easier_and_no_step_is_shown() -> None:
    high = [good(day, distraction="high") for day in (0, 1)]
    one = planned(*high, stop_on(2, distraction="high"))
    assert one.distraction == "medium"
    assert "Show that" not in aim_words(one.aim)


def test_a_stop_stands_until_a_person_closes_it() -> None:
    assert len(planned(good(0), stop_on(1), good(2), good(3)).stops) == 1
    assert len(planned(good(0), stop_on(1), stop_on(2), good(3)).stops) == 2
    closing = closed(stop_on(1).matters)
    days = [good(0), stop_on(1), good(2)]
    found = open_matters(days[1].matters, [closing], on(10))
    one = plan(days, JUNO, RULES, on(10), matters=found)
    assert (one.button, one.stops, one.matters) == (True, (), ())


def test_a_stop_on_another_transmitter_stands_too() -> None:
    other = stop_on(1)._replace(transmitter=Transmitter(top=100))
    assert planned(other, good(2, button=1)).button is False


# --- what to work on -------------------------------------------------------------------


def test_a_ready_dog_goes_a_step_on_and_another_stays() -> None:
    good_days = [good(day) for day in range(10)]
    assert planned(*good_days).distraction == "low"
    assert planned(*good_days, good(10, came=6)).distraction == "none"


def test_a_session_of_presses_is_a_hard_one() -> None:
    low = good(1, came=4, button=6, distraction="low")
    assert planned(good(0), low).distraction == "none"


def test_a_hard_session_goes_a_step_back() -> None:
    low = good(1, came=3, distraction="low")
    assert planned(good(0), low).distraction == "none"


def test_a_new_dog_begins_with_no_distraction_and_few_reps() -> None:
    one = planned()
    assert (one.distraction, one.reps) == ("none", RULES.plan_reps_pup)
    assert one.session


def test_vibrate_is_left_out_for_a_dog_that_feared_it() -> None:
    feared = session_digest([rep(1, "vibrate", [], "complied", [("cowered", "strong", None)])], 0)
    assert "No vibrate" in warm_up_words(planned(feared, good(1)).warm_up)


def test_what_to_watch_names_the_signs_and_their_reps() -> None:
    seen = session_digest(
        [
            rep(1, "continuous", [2], "complied", [("ear flick", "noticed", 2)]),
            rep(2, "continuous", [4], "complied", [("yelped", "strong", 4)]),
            rep(3, "none", [], "complied", [("yawned", "weak", None)]),
        ]
    )
    watch = planned(seen).watch
    assert [reason_words(reason) for reason in watch] == [
        "First sign so far: ear flick (1 rep).",
        "Yelped on 1 Mar 2031. If you see it again: thumb off at once.",
        "Weak signs so far: yawned (1). Two in one rep: stop there.",
    ]
    assert watch[1].reps == ("s0.2",)


def test_a_call_of_which_the_button_was_not_said_keeps_no_dog_where_it_is() -> None:
    """Unaided is one thing in the plan as elsewhere: neither a second call nor "not said" is."""
    sure = good(1, came=10, distraction="low")
    vague = sure._replace(reps=tuple(r._replace(mode="unknown") for r in sure.reps))
    again = sure._replace(reps=tuple(r._replace(cues=2) for r in sure.reps))
    wanted = ["none", "none", "low"]
    assert [planned(good(0), one).distraction for one in (vague, again, sure)] == wanted
