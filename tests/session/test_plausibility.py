"""What cannot be so is to be checked, never sure; what is said a moment later is taken in.

The bounds are common practice, no source: a rep of which nobody spoke for a minute is over, a line
takes ten seconds to bring a dog in, and a word within six seconds of the outcome is still of it.
"""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.session.said import reps_of, session_of, short
from tests.strategies import REP_PIECE
from voicelog.analysis.session_digest import digest_session
from voicelog.analysis.unaided import unaided
from voicelog.model import Dog, Roster, Transmitter
from voicelog.session.utterance_builder import STALE_S

TWENTY = Roster(dogs=(Dog(name="Bracken", transmitter=Transmitter(top=20)),))


def told(*lines: str, roster: Roster | None = None) -> list[str]:
    reps = reps_of(*lines) if roster is None else reps_of(*lines, roster=roster)
    return [short(rep) for rep in reps]


# --- long after the word before -------------------------------------------------------------


def test_an_outcome_long_after_the_last_word_is_to_be_checked_and_tells_no_time() -> None:
    (rep,) = reps_of("0 here", "600 came")
    assert (rep.outcome, rep.doubts, rep.doubtful) == ("complied", ("late",), True)
    assert (rep.latency_s, rep.times.arrived_at_s) == (None, None)


@pytest.mark.parametrize(("at_s", "late"), [("61", False), ("61.5", True)])
def test_the_minute_runs_from_the_end_of_the_last_word(at_s: str, late: bool) -> None:
    assert reps_of("0 here", f"{at_s} came")[0].doubtful is late


@pytest.mark.parametrize("between", ["committed", "ear flick", "thumb off", "level 2", "treat"])
def test_every_word_of_an_open_rep_keeps_it_open(between: str) -> None:
    (rep,) = reps_of("0 here", "1 level 1", f"40 {between}", "90 came")
    assert (rep.outcome, rep.doubtful) == ("complied", False)


def test_a_turn_and_the_end_of_a_press_long_after_tell_no_time() -> None:
    (rep,) = reps_of("0 here", "1 level 2", "200 committed thumb off", "203 came")
    assert (rep.turned_s, rep.stimulus_s, rep.doubts) == (None, None, ("late",))


def test_a_whole_rep_told_long_after_an_open_one_is_a_rep_of_its_own() -> None:
    assert told("0 here", "300 came level 3 here") == [
        "1 | unknown |  | unknown |  | doubtful",
        "2 | continuous | 3 | complied | ",
    ]


def test_a_correction_may_come_when_it_likes_but_tells_no_time_either() -> None:
    (rep,) = reps_of("0 here", "600 came", "700 correction came")
    assert (rep.outcome, rep.doubtful, rep.latency_s) == ("complied", False, None)


PAUSE = st.sampled_from([0.5, 2.0, 5.0, 9.0, 30.0, 59.0, 61.0, 65.0, 600.0])
LINES = st.lists(st.tuples(PAUSE, st.lists(REP_PIECE, min_size=1, max_size=3)), max_size=8)
MENDED = st.sampled_from([None, "correction came", "correction ignored", "correction level 3"])


@given(LINES, MENDED)
def test_no_sure_rep_has_a_time_that_crosses_a_silence_of_a_minute(
    said: list[tuple[float, list[str]]], mended: str | None
) -> None:
    lines, at_s, spoken = [], 0.0, []
    for pause_s, pieces in said:
        at_s += 1 + pause_s
        lines.append(f"{at_s} {' '.join(pieces)}")
        spoken.append(at_s)
    if mended:
        lines.append(f"{at_s + 3} {mended}")
    silences = [
        (before, after) for before, after in pairwise(spoken) if after - before > STALE_S + 1
    ]
    session = session_of("drill recall", *lines)
    for rep, short_rep in zip(session.reps, digest_session(session).reps, strict=True):
        if rep.doubtful or rep.times.cue_at_s is None:
            continue
        cue_s = rep.times.cue_at_s
        for took_s in (rep.latency_s, rep.turned_s, short_rep.failed_s):
            if took_s is not None:
                assert not any(cue_s <= a and b <= cue_s + took_s for a, b in silences)


@given(LINES)
def test_no_rep_is_unaided_of_which_a_press_was_said(said: list[tuple[float, list[str]]]) -> None:
    lines, at_s = [], 0.0
    for pause_s, pieces in said:
        at_s += 1 + pause_s
        lines.append(f"{at_s} {' '.join(pieces)}")
    session = session_of("drill recall", *lines)
    pressed = {mark.rep for mark in session.marks if mark.kind == "press"}
    assert not [rep for rep in session.reps if rep.number in pressed and unaided(rep)]


# --- levels ---------------------------------------------------------------------------------


def test_a_level_beyond_the_transmitter_is_to_be_checked() -> None:
    assert told("level 30 came", "level 20 came", roster=TWENTY) == [
        "1 | continuous | 30 | complied |  | doubtful",
        "2 | continuous | 20 | complied | ",
    ]


def test_saying_it_again_makes_no_level_of_it_and_another_level_does() -> None:
    assert reps_of("level 30 came", "correction level 30", roster=TWENTY)[0].doubts == ("level",)
    assert not reps_of("level 30 came", "correction level 3", roster=TWENTY)[0].doubtful


def test_the_transmitter_is_that_of_the_dog_the_session_turned_out_to_be_of() -> None:
    roster = Roster(dogs=(Dog(name="Wren"), *TWENTY.dogs))
    session = session_of("start session Wren", "level 30 came", "wrong dog Bracken", roster=roster)
    assert session.reps[0].doubtful


@pytest.mark.parametrize("zero", ["level 0", "tap 0"])
def test_level_zero_is_no_press(zero: str) -> None:
    session = session_of("collar fitted", f"here {zero} came")
    assert [short(rep) for rep in session.reps] == ["1 | unknown |  | complied | "]
    assert not [mark for mark in session.marks if mark.kind == "press"]
    assert not unaided(session.reps[0])


def test_down_to_zero_ends_the_press_before_it() -> None:
    (rep,) = reps_of("0 here", "1 level 2", "4 down to 0", "6 came")
    assert ([mark.level for mark in rep.levels], rep.stimulus_s) == ([2], 3.0)


def test_zero_is_no_step_of_the_search_for_a_level() -> None:
    reps = reps_of("drill find level", "tap 0", "tap 1", "nothing")
    assert [short(rep) for rep in reps] == ["1 | momentary | 1 | None | nothing"]


def test_a_correction_to_zero_takes_the_press_away() -> None:
    assert reps_of("level 3 came", "correction level 0")[0].levels == ()


# --- "no button" after the outcome ------------------------------------------------------------


@pytest.mark.parametrize(("at_s", "reps"), [("9", 1), ("9.5", 2)])
def test_no_button_soon_after_the_outcome_is_of_that_rep(at_s: str, reps: int) -> None:
    found = reps_of("0 collar fitted", "1 here", "2 came", f"{at_s} no button")
    assert len(found) == reps
    assert unaided(found[0]) is (reps == 1)
    assert not found[0].doubtful


@pytest.mark.parametrize("pressed", ["level 3", "tap 3", "vibrate", "tone"])
def test_no_button_after_a_rep_that_was_pressed_is_a_question(pressed: str) -> None:
    (rep,) = reps_of("0 here", f"1 {pressed}", "3 came", "6 no button")
    assert (rep.doubts, unaided(rep)) == (("button",), False)
    (rep,) = reps_of(f"here {pressed} came no button")
    assert (rep.doubts, unaided(rep)) == (("button",), False)


@pytest.mark.parametrize("pressed", ["level 3", "tap 3", "vibrate", "tone", "up to 3"])
def test_no_button_and_a_press_right_after_it_contradict_each_other(pressed: str) -> None:
    (rep,) = reps_of(f"here no button {pressed} came")
    assert (rep.doubts, unaided(rep)) == (("button",), False)
    (rep,) = reps_of("0 here no button", f"4 {pressed} came")  # she waited, and then pressed
    assert not rep.doubtful
    first, second = reps_of("here no button ignored level 3 came")
    assert not first.doubtful
    assert not second.doubtful


@pytest.mark.parametrize("pressed", ["level 3", "tap 3 nothing", "vibrate", "tone", "up to 3"])
@pytest.mark.parametrize("outcome", [(), ("came",)])
def test_a_press_and_no_button_in_one_breath_are_one_rep_to_check(
    pressed: str, outcome: tuple[str, ...]
) -> None:
    (rep,) = reps_of(" ".join(("here", pressed, "no button", *outcome)))
    assert (rep.doubts, unaided(rep)) == (("button",), False)
    (rep,) = reps_of(" ".join((pressed, "no button", *outcome)))
    assert rep.doubts == ("button",)
    assert len(reps_of(f"0 here {pressed}", "4 no button came")) == 2  # said later, of another


def test_level_zero_is_no_press_that_contradicts_no_button() -> None:
    (rep,) = reps_of("here no button level 0 came")
    assert (rep.mode, rep.doubts) == ("none", ())


def test_a_level_under_the_lowest_is_to_check_as_one_above_the_top() -> None:
    dog = Dog(name="Bracken", cues=("here",), transmitter=Transmitter(lowest=3, top=10))
    found = {
        level: reps_of(f"here level {level} came", roster=Roster(dogs=(dog,)))[0].doubts
        for level in (2, 3, 10, 11)
    }
    assert found == {2: ("level",), 3: (), 10: (), 11: ("level",)}


@pytest.mark.parametrize(
    ("words", "mode"), [("no button", "none"), ("level 3", "continuous"), ("vibrate", "vibrate")]
)
def test_a_correction_answers_it(words: str, mode: str) -> None:
    (rep,) = reps_of("0 here", "1 level 3", "3 came", "6 no button", f"20 correction {words}")
    assert (rep.mode, rep.doubtful) == (mode, False)


def test_no_button_said_again_opens_the_next_rep() -> None:
    assert told("here no button came", "no button", "came") == [
        "1 | none |  | complied | ",
        "2 | none |  | complied | ",
    ]


def test_a_whole_rep_without_button_soon_after_another_is_its_own() -> None:
    assert told("0 here level 2 came", "4 here no button came") == [
        "1 | continuous | 2 | complied | ",
        "2 | none |  | complied | ",
    ]


def test_an_outcome_after_no_button_may_be_of_a_second_rep_and_both_are_to_be_checked() -> None:
    reps = reps_of("0 here", "2 came", "5 no button", "9 ignored")
    assert [(rep.outcome, rep.doubts) for rep in reps] == [
        ("complied", ("two reps",)),
        ("ignored", ("two reps",)),
    ]


COLLAR = "0 collar fitted"


@pytest.mark.parametrize(
    ("lines", "modes", "asked"),
    [
        # called soon after it, and nothing more is said of the button: nobody knows of which it was
        (("1 here", "3 came", "6 no button", "9 here", "12 came"), ["none", "unknown"], [1, 2]),
        # ... unless it was said in the breath of the outcome, or of the call
        (("1 here", "3 came no button", "9 here", "12 came"), ["none", "unknown"], []),
        (("1 here", "3 came", "6 no button here", "12 came"), ["unknown", "none"], []),
        # a call long after is another matter
        (("1 here", "3 came", "6 no button", "20 here", "25 came"), ["none", "unknown"], []),
        # the second was pressed: the first was without
        (("1 here", "3 came", "6 no button", "9 here level 2", "12 came"),
         ["none", "continuous"], []),
        # it is said of the second too: settled where the first was said right after the outcome
        (("1 here", "3 came", "4 no button", "9 here", "12 came", "14 no button"),
         ["none", "none"], []),
        (("1 here", "3 came", "8 no button", "10 here no button", "12 came"),
         ["none", "none"], [1]),
    ],
)  # fmt: skip
def test_no_button_between_two_calls_is_never_taken_for_the_wrong_one(
    lines: tuple[str, ...], modes: list[str], asked: list[int]
) -> None:
    reps = reps_of(COLLAR, *lines)
    assert [rep.mode for rep in reps] == modes
    assert [rep.number for rep in reps if rep.doubts == ("two reps",)] == asked
    assert [rep.number for rep in reps if unaided(rep) and not rep.doubtful] == [
        rep.number for rep in reps if rep.mode == "none" and rep.number not in asked
    ]


@pytest.mark.parametrize("told", ["came", "no button came"])
def test_the_answer_says_whether_it_was_without(told: str) -> None:
    lines = ("1 here", "3 came", "6 no button", "9 here", "12 came", f"20 correction {told}")
    first, second = reps_of(COLLAR, *lines)
    assert (second.mode, second.doubtful) == ("none" if " " in told else "unknown", False)
    assert first.doubts == ("two reps",)
    collarless = reps_of(*lines[:-1])
    assert not any(rep.doubtful for rep in collarless)


# --- another word on the outcome --------------------------------------------------------------


@pytest.mark.parametrize("failed", ["ignored", "peeled off", "broke"])
@pytest.mark.parametrize(("at_s", "outcome"), [("13", "helped"), ("13.5", None)])
def test_line_help_in_another_breath_mends_a_failed_rep(
    failed: str, at_s: str, outcome: str | None
) -> None:
    session = session_of("0 here", f"2 {failed}", f"{at_s} line help")
    (rep,) = session.reps
    assert (rep.outcome == "helped") is (outcome == "helped")
    assert ("u002" in session.placed) is (outcome == "helped")
    assert not rep.doubtful


@pytest.mark.parametrize(
    ("more", "outcome"), [("came slow", "slow"), ("came partway", "partial"), ("came", "complied")]
)
def test_came_slow_after_came_says_more_of_it(more: str, outcome: str) -> None:
    (rep,) = reps_of("0 here", "4 came", f"8 {more}")
    assert (rep.outcome, rep.doubtful, rep.latency_s) == (outcome, False, 4.0)
    assert short(reps_of(f"here came {more}")[0]).split(" | ")[3] == outcome


@pytest.mark.parametrize("pair", [("came", "ignored"), ("came", "line help"), ("broke", "came")])
def test_two_outcomes_in_two_breaths_are_a_question(pair: tuple[str, str]) -> None:
    (rep,) = reps_of("0 here", f"4 {pair[0]}", f"8 {pair[1]}")
    assert rep.doubts == ("outcomes",)


def test_an_outcome_of_a_rep_told_whole_is_of_that_one() -> None:
    assert told("0 here came", "4 here ignored") == [
        "1 | none |  | complied | ",
        "2 | none |  | ignored | ",
    ]


# --- the ladder -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("lines", "words", "levels"),
    [
        (["here", "level 1", "up to 2", "up to 30", "came"], "up to 3", [1, 2, 3]),
        (["here level 1 up to 2 up to 30 came"], "up to 3", [1, 2, 3]),
        (["here", "level 1", "up to 4", "down to 20", "came"], "down to 2", [1, 4, 2]),
        (["here", "level 2", "level 30", "came"], "up to 3", [2, 3]),
        (["here", "level 2", "notch up", "came"], "notch down", [2, 1]),
        (["here", "level 2", "came"], "up to 3", [2, 3]),  # what was pressed before is not unsaid
        (["here", "level 30", "came"], "up to 3", [3]),  # but no way leads up from 30 to 3
        (["here", "level 1", "up to 2", "vibrate", "came"], "up to 3", [1, 3]),
        (["here", "level 1", "up to 2", "came"], "level 3", [3]),
        (["here", "vibrate", "came"], "up to 3", [3]),
    ],
    ids=str,
)
def test_a_corrected_rung_keeps_the_ladder_before_it(
    lines: list[str], words: str, levels: list[int]
) -> None:
    (rep,) = reps_of(*lines, f"correction {words}")
    assert [mark.level for mark in rep.levels] == levels


def test_a_corrected_rung_has_the_time_and_the_signs_of_the_one_it_replaces() -> None:
    session = session_of(
        "0 here", "2 level 1", "4 ear flick", "6 up to 30", "8 yelped", "9 thumb off", "10 came",
        "14 correction up to 3",
    )  # fmt: skip
    (rep,) = session.reps
    assert [(mark.at_s, mark.level) for mark in rep.levels] == [(2.0, 1), (6.0, 3)]
    assert [(mark.sign, mark.level) for mark in rep.sign_marks] == [("ear flick", 1), ("yelped", 3)]
    assert rep.stimulus_s == 4.0
    presses = [(mark.at_s, mark.value) for mark in session.marks if mark.kind == "press"]
    assert presses == [(2.0, 1), (6.0, 3)]
    assert [mark.kind for mark in session.marks] == [
        "cue", "press", "sign", "press", "sign", "off", "outcome",
    ]  # fmt: skip


def test_the_next_notch_goes_on_from_the_corrected_rung() -> None:
    (rep,) = reps_of("level 1", "up to 30", "correction up to 3", "notch up", "came")
    assert [mark.level for mark in rep.levels] == [1, 3, 4]


# --- lines without times --------------------------------------------------------------------


@pytest.mark.parametrize("order", ["here no button came", "came no button here"])
def test_where_no_time_lies_between_a_whole_rep_with_its_cue_is_a_call_of_its_own(
    order: str,
) -> None:
    first, second = reps_of("5 here no button", f"5 {order}")
    assert (first.outcome, first.doubts, first.cues) == ("unknown", ("no outcome",), 1)
    assert (second.outcome, second.doubtful, second.cues) == ("complied", False, 1)


@pytest.mark.parametrize(
    "lines",
    [
        ("5 here no button", "5 no button came"),  # no second call
        ("5 here", "5 level 3", "5 here", "5 came"),  # said piece by piece
        ("5 here no button", "9 here no button came"),  # it was called again a moment later
        ("5 here no button here came",),
    ],
)
def test_a_call_that_goes_on_stays_one_rep(lines: tuple[str, ...]) -> None:
    (rep,) = reps_of(*lines)
    assert rep.outcome == "complied"
