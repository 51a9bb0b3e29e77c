"""A rep is opened by a cue, a stimulus or "no button", and closed by an outcome."""

from __future__ import annotations

from itertools import permutations

import pytest

from tests.session.said import GRAMMAR, reps_of, session_of, short
from voicelog.analysis.rep_questions import rep_questions
from voicelog.model import Dog, Roster, Transmitter
from voicelog.report.summary import summarise
from voicelog.report.summary_rows import summary_rows

WHOLE = ["here", "level three", "came", "neck twitch"]
COUNTED = ["no button", "came slow", "called twice", "treat"]


def told(*lines: str) -> list[str]:
    return [short(rep) for rep in reps_of(*lines)]


# --- one breath or pieces -----------------------------------------------------------------


def test_a_rep_may_come_in_one_breath() -> None:
    assert told("level three came neck twitch") == ["1 | continuous | 3 | complied | neck twitch"]


def test_the_same_rep_may_come_in_pieces() -> None:
    assert told("level three", "came", "neck twitch") == [
        "1 | continuous | 3 | complied | neck twitch"
    ]


@pytest.mark.parametrize("order", list(permutations(WHOLE)))
def test_within_a_breath_the_order_is_free(order: tuple[str, ...]) -> None:
    (rep,) = reps_of(" ".join(order))
    assert short(rep) == "1 | continuous | 3 | complied | neck twitch"
    assert (rep.cue, rep.cues) == ("here", 1)


@pytest.mark.parametrize("order", list(permutations(COUNTED)))
def test_order_is_free_for_counts_and_rewards_too(order: tuple[str, ...]) -> None:
    (rep,) = reps_of(" ".join(order))
    assert short(rep) == "1 | none |  | slow | "
    assert (rep.cues, rep.rewards) == (2, ("treat",))


def test_a_breath_may_tell_two_reps() -> None:
    assert told("level 2 ignored level 3 came") == [
        "1 | continuous | 2 | ignored | ",
        "2 | continuous | 3 | complied | ",
    ]


@pytest.mark.parametrize("opening", ["here", "recall pips", "level 1", "tap 1", "vibrate", "tone"])
def test_each_opening_alone_opens_a_rep_without_outcome(opening: str) -> None:
    (rep,) = reps_of(opening)
    assert (rep.outcome, rep.doubtful) == (None, False)


def test_no_button_opens_a_rep() -> None:
    assert told("no button", "came") == ["1 | none |  | complied | "]


def test_a_missing_word_is_not_said_and_no_warning() -> None:
    (rep,) = reps_of("level 2 came")
    assert (rep.cue, rep.cue_by, rep.cues, rep.drill, rep.distraction) == (
        None,
        None,
        0,
        None,
        None,
    )
    assert not rep.doubtful


# --- the trace ------------------------------------------------------------------------------


def test_another_level_in_an_open_rep_is_its_trace() -> None:
    (rep,) = reps_of("0 here", "2 level two", "4 up to three", "6 level five", "8 came")
    assert [(mark.at_s, mark.level) for mark in rep.levels] == [(2.0, 2), (4.0, 3), (6.0, 5)]
    assert (rep.peak_level, rep.end_level) == (5, 5)


def test_the_peak_is_not_always_the_end() -> None:
    (rep,) = reps_of("here", "level 4", "rolled back to two", "came")
    assert (rep.peak_level, rep.end_level) == (4, 2)


def test_a_dial_is_set_and_not_pressed() -> None:
    (rep,) = reps_of("collar fitted", "here", "dial 5", "came")
    assert (rep.mode, rep.levels, rep.peak_level) == ("unknown", (), None)


@pytest.mark.parametrize(
    ("said", "step", "levels"),
    [
        (["level 4", "notch up"], None, [4, 5]),
        (["level 4", "notch down"], None, [4, 3]),
        (["level 4", "notch up"], 5, [4, 9]),
        (["level 4", "notch down"], 5, [4, 1]),  # never below the lowest level
        (["level 98", "notch up"], 5, [98, 100]),  # nor above the top
        (["dial 5", "notch up"], None, [6]),  # from where the dial stood
    ],
    ids=str,
)
def test_a_notch_is_one_level_or_the_transmitters_step(
    said: list[str], step: int | None, levels: list[int]
) -> None:
    roster = Roster(dogs=(Dog(name="Bracken", transmitter=Transmitter(step=step)),))
    (rep,) = reps_of(*said, "came", roster=roster)
    assert [mark.level for mark in rep.levels] == levels


def test_a_notch_from_nowhere_is_no_known_level() -> None:
    assert reps_of("collar fitted", "here", "notch up", "came")[0].levels == ()


@pytest.mark.parametrize("words", ["vibrate came", "tone came", "no button came"])
def test_levels_are_empty_for_what_has_none(words: str) -> None:
    (rep,) = reps_of(words)
    assert (rep.levels, rep.peak_level, rep.end_level) == ((), None, None)


# --- the ladder -----------------------------------------------------------------------------


@pytest.mark.parametrize("next_level", ["level 3", "up to 3"])
def test_after_an_outcome_another_level_opens_the_next_rep(next_level: str) -> None:
    assert told("here", "level 2", "ignored", next_level, "came") == [
        "1 | continuous | 2 | ignored | ",
        "2 | continuous | 3 | complied | ",
    ]


def test_down_to_after_an_outcome_goes_on_in_a_new_rep() -> None:
    assert told("level 4 came", "down to 3", "came")[1] == "2 | continuous | 3 | complied | "


@pytest.mark.parametrize(
    ("words", "rep"),
    [
        ("here level 5 came down to 3", "1 | continuous | 5 | complied |  | doubtful"),
        ("here level 5 all in down to 3", "1 | continuous | 5 | complied | "),
    ],
)
def test_down_to_a_level_right_after_the_outcome_eases_the_dial_and_presses_nothing(
    words: str, rep: str
) -> None:
    session = session_of(words)
    assert [short(one) for one in session.reps] == [rep]
    assert [(mark.kind, mark.value) for mark in session.marks if mark.kind == "dial"] == [
        ("dial", 3)
    ]


def test_came_down_to_a_level_alone_presses_nothing_and_opens_nothing() -> None:
    assert told("came down to 3") == []
    assert told("here level 5", "came down to 3") == ["1 | continuous | 5 | complied |  | doubtful"]


def test_down_to_a_level_before_the_outcome_is_a_press() -> None:
    assert told("here level 5", "down to 3 came") == ["1 | continuous | 5 3 | complied | "]
    assert told("level 5 came down to 3 came")[-1] == "2 | continuous | 3 | complied | "


# --- cues -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "cue", "by"),
    [
        ("here", "here", "voice"),
        ("Bracken here", "here", "voice"),
        ("recall pips", "recall pips", "whistle"),
        ("long blast", "long blast", "whistle"),
        ("turn pips", "turn pips", "whistle"),
        ("helper called", "called", "helper"),
    ],
)
def test_a_cue_says_who_gave_it(words: str, cue: str, by: str) -> None:
    (rep,) = reps_of(words, "came")
    assert (rep.cue, rep.cue_by, rep.cues) == (cue, by, 1)


@pytest.mark.parametrize(
    ("lines", "cues"),
    [
        (["0 here", "4 here", "8 came"], 2),
        (["0 here", "10 here", "12 came"], 2),  # 10 s is not more than 10 s
        (["0 here", "9 here", "18 here", "20 came"], 3),  # counted from the last cue
        (["0 here", "4 called twice", "6 came"], 2),
        (["0 here", "4 called three times", "6 came"], 3),
        (["here came called four times"], 4),
        (["0 recall pips", "3 here", "6 came"], 2),
    ],
)
def test_cues_within_ten_seconds_are_one_rep_and_counted(lines: list[str], cues: int) -> None:
    (rep,) = reps_of(*lines)
    assert (rep.cues, rep.outcome, rep.doubtful) == (cues, "complied", False)


def test_a_cue_after_more_than_ten_seconds_closes_the_open_rep_as_unknown_and_doubtful() -> None:
    assert told("0 here", "10.5 here", "12 came") == [
        "1 | none |  | unknown |  | doubtful",
        "2 | none |  | complied | ",
    ]


def test_the_first_cue_names_the_rep() -> None:
    assert reps_of("0 here", "3 recall pips", "6 came")[0].cue == "here"


def test_a_cue_word_is_one_only_for_a_dog_whose_profile_has_it() -> None:
    assert reps_of("start session Bracken", "heel", "came") == ()
    (rep,) = reps_of("start session Wren", "heel", "came")
    assert rep.cue == "heel"


def test_another_dogs_name_before_the_cue_calls_another_dog() -> None:
    assert reps_of("start session Bracken", "Wren here", "came") == ()


# --- outcomes -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "outcome"),
    [
        ("came", "complied"),
        ("all in", "complied"),
        ("arrived", "complied"),
        ("complied", "complied"),
        ("on place", "complied"),
        ("loaded up", "complied"),
        ("stood fast", "complied"),
        ("came slow", "slow"),
        ("all in slow", "slow"),
        ("arrived partway", "partial"),
        ("complied partway", "partial"),
        ("ignored", "ignored"),
        ("peeled off", "left"),
        ("broke", "broke"),
        ("line help", "helped"),
    ],
)
def test_outcome_words_come_out_as_the_contract_says(words: str, outcome: str) -> None:
    assert [rep.outcome for rep in reps_of("here", words)] == [outcome]


def test_a_failed_rep_that_the_line_finished_in_the_same_breath_was_helped() -> None:
    (rep,) = reps_of("here ignored line help")
    assert (rep.outcome, rep.doubtful) == ("helped", False)


@pytest.mark.parametrize(
    ("lines", "outcome"),
    [
        (("here", "ignored", "line help"), "ignored, line help"),
        (("here peeled off line help",), "peeled off, line help"),
        (("here", "line help"), "line help"),
        (("here", "ignored", "strike that", "here line help"), "line help"),
    ],
)
def test_the_summary_tells_the_failure_that_the_line_finished(
    lines: tuple[str, ...], outcome: str
) -> None:
    rows = summarise(session_of(*lines), (), (), None).reps
    assert rows[-1].outcome == outcome


def test_two_outcomes_that_contradict_each_other_are_doubtful() -> None:
    (rep,) = reps_of("here came ignored")
    assert rep.doubtful


@pytest.mark.parametrize(
    "failed", [("ignored", "ignored"), ("peeled off", "left"), ("broke", "broke")]
)
def test_a_dog_that_failed_was_pressed_and_came_keeps_both_without_a_question(
    failed: tuple[str, str],
) -> None:
    session = session_of(f"here {failed[0]} level 6 came")
    (rep,) = session.reps
    assert (rep.outcome, rep.failed_first, rep.peak_level) == ("complied", failed[1], 6)
    assert not rep.doubtful
    assert rep_questions(session) == ()


@pytest.mark.parametrize(
    "line",
    [
        "here ignored level 3 nothing level 4 came",
        "here ignored level 3 level 4 came",
        "here ignored level 3 ear flick up to 4 came",
        "here ignored level 3 ignored level 4 came",
        "here level 3 ignored level 4 came",
        "here level 3 ignored nothing up to 4 came",
    ],
)
def test_presses_after_a_dog_failed_are_of_the_same_call(line: str) -> None:
    (rep,) = reps_of(line)
    assert (rep.cue, rep.outcome, rep.failed_first) == ("here", "complied", "ignored")
    assert [mark.level for mark in rep.levels] == [3, 4]
    assert not rep.doubtful


def test_a_press_after_what_came_of_the_last_is_another_rep() -> None:
    assert len(reps_of("level 3 ignored level 4 came")) == 2
    assert len(reps_of("here level 3 ignored here level 4 came")) == 2
    assert len(reps_of("here level 3 ignored", "level 4 came")) == 2
    assert len(reps_of("here level 3 ignored level 4 broke")) == 2
    assert len(reps_of("here ignored level 3 came level 4 came")) == 2
    assert len(reps_of("here ignored level 3 came", "level 4 came")) == 2


@pytest.mark.parametrize("then", [("here level 4 came slow",), ("here", "level 4", "came slow")])
@pytest.mark.parametrize("press", ["level 4 nothing", "level 4 ignored", "tap 4", "tone nothing"])
def test_a_press_on_a_typed_line_of_its_own_is_not_of_the_call_below(
    press: str, then: tuple[str, ...]
) -> None:
    lines = [f"0 {line}" for line in ("here came", press, *then)]
    session = session_of(*lines)
    assert [len(rep.times.presses) for rep in session.reps] == [0, 1, 1]
    assert session.reps[2].outcome == "slow"
    asked = [question.rep for question in rep_questions(session)]
    assert asked == ([] if "ignored" in press else [2])


def test_a_press_and_its_outcome_on_typed_lines_are_one_rep() -> None:
    assert told("0 level 4 nothing", "0 up to 5", "0 came") == [
        "1 | continuous | 4 5 | complied | nothing"
    ]
    assert len(reps_of("0 here", "0 level 4 nothing", "0 came")) == 1
    assert len(reps_of("0 level 4", "3 here", "5 came")) == 1  # spoken: there is time between


def test_where_no_press_lies_between_a_person_says_what_came_first() -> None:
    for line, both in (
        ("here no button ignored came", "ignored came"),
        ("here level 6 ignored came", "ignored level six came"),
    ):
        session = session_of(line)
        (question,) = rep_questions(session)
        assert GRAMMAR.speak(question.answers[-1]) == both
        (rep,) = reps_of(line, f"correction {both}")
        assert (rep.outcome, rep.failed_first, rep.doubtful) == ("complied", "ignored", False)
        (rep,) = reps_of(line, "correction came")
        assert (rep.outcome, rep.failed_first, rep.doubtful) == ("complied", None, False)


@pytest.mark.parametrize(
    ("said", "outcome", "first"),
    [
        ("came slow", "slow", "ignored"),
        ("line help", "helped", "ignored"),
        ("level 4 came partway", "partial", "ignored"),
        ("level 4", "complied", "ignored"),
        ("ignored", "ignored", None),
        ("peeled off came", "complied", "left"),
        ("here level 6 came", "complied", None),
    ],
)
def test_a_correction_of_how_it_ended_leaves_what_the_dog_did_before(
    said: str, outcome: str, first: str | None
) -> None:
    (rep,) = reps_of("here ignored level 6 came", f"correction {said}")
    assert (rep.outcome, rep.failed_first, rep.doubtful) == (outcome, first, False)


def test_came_and_then_ignored_makes_no_sense_and_no_answer_has_both() -> None:
    (question,) = rep_questions(session_of("here came ignored"))
    assert [GRAMMAR.speak(one) for one in question.answers] == ["came", "ignored"]


def test_line_help_keeps_what_the_dog_did_before() -> None:
    (rep,) = reps_of("here", "ignored", "line help")
    assert (rep.outcome, rep.failed_first) == ("helped", "ignored")


@pytest.mark.parametrize(
    ("word", "drill"), [("sat to whistle", "stop"), ("on place", "place"), ("stayed put", "steady")]
)
def test_a_dog_that_sat_or_stayed_in_a_recall_did_not_come(word: str, drill: str) -> None:
    session = session_of("drill recall", f"here no button {word}", "here no button came")
    assert [rep.drill for rep in session.reps] == [drill, "recall"]
    assert [row.outcome for row in summary_rows(session)] == [word, "came"]
    (heel,) = reps_of("drill heel", f"here no button {word}")
    assert heel.drill == "heel"
    (corrected, _) = reps_of(
        "drill recall", f"here no button {word}", "correction came", "here no button came"
    )
    assert corrected.drill == "recall"


@pytest.mark.parametrize("words", ["came", "ignored", "line help", "yelped", "nothing", "lip lick"])
def test_outcomes_and_signs_without_a_rep_change_nothing(words: str) -> None:
    session = session_of("here level 2 came", "30 drill recall", f"60 {words}")
    assert [short(rep) for rep in session.reps] == ["1 | continuous | 2 | complied | "]
    assert "u002" in session.entries
    assert "u002" not in session.placed


# --- signs and rewards ----------------------------------------------------------------------


def test_signs_in_the_outcomes_breath_belong_to_its_rep() -> None:
    assert reps_of("here", "level 3", "came ear flick yelped")[0].signs == ("ear flick", "yelped")


@pytest.mark.parametrize(("start", "belongs"), [("9", True), ("9.5", False)])
def test_signs_within_six_seconds_after_the_outcome_belong_to_its_rep(
    start: str, belongs: bool
) -> None:
    # "came" is said from 2 s to 3 s
    session = session_of("0 level 2", "2 came", f"{start} head turn")
    assert session.reps[0].signs == (("head turn",) if belongs else ())
    assert ("u002" in session.placed) is belongs


def test_a_sign_in_an_open_rep_belongs_to_it_and_not_to_the_last() -> None:
    first, second = reps_of("0 level 2 came", "2 level 3", "3 yelped", "5 came")
    assert (first.signs, second.signs) == ((), ("yelped",))


def test_a_sign_is_marked_with_the_level_in_force() -> None:
    (rep,) = reps_of("0 here", "2 ear flick", "4 level 3", "6 neck twitch", "8 level 5", "9 yelped")
    assert [(m.sign, m.class_, m.level, m.at_s) for m in rep.sign_marks] == [
        ("ear flick", "noticed", None, 2.0),
        ("neck twitch", "noticed", 3, 6.0),
        ("yelped", "strong", 5, 9.0),
    ]


@pytest.mark.parametrize(
    ("signs", "stress"),
    [
        ("neck twitch", False),
        ("nothing", False),
        ("lip lick", False),
        ("lip lick lip lick", False),
        ("lip lick yawned", True),
        ("flinched", True),
    ],
)
def test_stress_is_one_strong_sign_or_two_different_weak_ones(signs: str, stress: bool) -> None:
    assert reps_of(f"level 3 came {signs}")[0].stress is stress


def test_a_strong_sign_without_a_rep_is_still_on_the_timeline() -> None:
    marks = [m for m in session_of("drill recall", "yelped").marks if m.kind == "sign"]
    assert [(m.name, m.value, m.rep) for m in marks] == [("yelped", "strong", None)]


def test_rewards_belong_to_the_rep_just_closed() -> None:
    assert reps_of("here came praised", "gave bird", "treat")[0].rewards == (
        "praised",
        "gave bird",
        "treat",
    )


# --- find level -----------------------------------------------------------------------------


def test_in_find_level_each_stimulus_is_a_rep_closed_by_a_sign() -> None:
    reps = reps_of("drill find level", "tap 1", "nothing", "tap 2", "ear flick", "level 3 nothing")
    assert [short(rep) for rep in reps] == [
        "1 | momentary | 1 | None | nothing",
        "2 | momentary | 2 | None | ear flick",
        "3 | continuous | 3 | None | nothing",
    ]
    assert {rep.drill for rep in reps} == {"find level"}


def test_in_find_level_the_next_tap_closes_a_rep_of_which_nothing_was_said() -> None:
    assert told("drill find level", "tap 1", "tap 2", "neck twitch") == [
        "1 | momentary | 1 | None | ",
        "2 | momentary | 2 | None | neck twitch",
    ]


def test_find_level_in_one_breath_needs_no_outcome() -> None:
    assert told("drill find level tap 1 nothing tap 2 nothing") == [
        "1 | momentary | 1 | None | nothing",
        "2 | momentary | 2 | None | nothing",
    ]


def test_after_find_level_recalls_are_reps_of_their_own_again() -> None:
    reps = reps_of("drill find level", "tap 1", "nothing", "drill recall", "here level 1 came")
    assert [(rep.drill, rep.outcome) for rep in reps] == [
        ("find level", None),
        ("recall", "complied"),
    ]


# --- no contact -----------------------------------------------------------------------------


def test_no_contact_voids_the_unfelt_reps_just_before_it() -> None:
    reps = reps_of("drill find level", "tap 1", "nothing", "tap 2", "nothing", "no contact")
    assert [rep.void for rep in reps] == [True, True]


def test_no_contact_voids_back_to_the_last_rep_that_was_felt() -> None:
    reps = reps_of("level 1 ignored", "level 2 came", "level 3 ignored", "no contact")
    assert [rep.void for rep in reps] == [False, False, True]


@pytest.mark.parametrize("words", ["level 3 ignored no contact", "level 3 no contact ignored"])
def test_no_contact_in_the_breath_of_the_rep_voids_it(words: str) -> None:
    assert [rep.void for rep in reps_of(words)] == [True]


def test_no_contact_voids_nothing_that_was_noticed() -> None:
    assert not reps_of("level 3 came ear flick", "no contact")[0].void


def test_no_contact_does_not_reach_forward() -> None:
    reps = reps_of("no contact", "contact solid", "level 3 ignored")
    assert [rep.void for rep in reps] == [False]
