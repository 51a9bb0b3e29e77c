"""Counts and levels against hand counts."""

from __future__ import annotations

import re

from hypothesis import given

from voicelog.model import Session, Transmitter
from voicelog.report.rep_counts import (
    LevelCells,
    LevelRow,
    answered_at,
    count_lines,
    level_rows,
    sure,
)

from .build import full_session, rep, session, tap
from .strategies import sessions


def twelve() -> Session:
    return session(
        [
            *(rep(number) for number in range(1, 6)),
            *(rep(number, cues=2) for number in (6, 7)),
            *(rep(number, "continuous", (2,)) for number in (8, 9, 10)),
            rep(11, outcome="helped"),
            rep(12, outcome="ignored"),
        ]
    )


def test_twelve_recalls_read_as_a_trainer_would_say_them() -> None:
    assert count_lines(twelve()) == (
        "12 recalls: 5 no button, 2 no button at a later call, 3 answered at 2, 1 line help, "
        "1 ignored; unaided at the first call 5 of 12; 3 more with the button, or nothing said "
        "of it",
    )


def test_reps_to_check_and_void_ones_are_named_and_not_counted() -> None:
    work = session([rep(1), rep(2, doubtful=True), rep(3, void=True, doubtful=True), rep(4)])
    assert count_lines(work) == (
        "3 reps (1 to check) and 1 void; only the sure ones count",
        "2 recalls: 2 no button; unaided at the first call 2 of 2",
        "Not counted: rep 2 (check) and rep 3 (void)",
    )


def test_taps_are_counted_apart_by_what_the_body_showed() -> None:
    work = session(
        [
            tap(1, 1, "nothing", "none"),
            tap(2, 2, "nothing", "none"),
            tap(3, 3, "ear flick", "noticed"),
            tap(4, 4, "yelped", "strong"),
            rep(5),
        ]
    )
    assert count_lines(work) == (
        "1 recall: 1 no button; unaided at the first call 1 of 1",
        "4 find-level taps, counted apart: "
        "2 nothing at 1 and 2, 1 noticed at 3, 1 strong sign at 4",
    )


def test_a_strong_sign_is_in_a_row_whatever_was_said_of_the_mode_or_the_level() -> None:
    yelp = (("yelped", "strong"),)
    for mode, label in (("unknown", "recall, mode not said"), ("continuous", "recall, continuous")):
        for doubtful, words in ((False, "3"), (True, "3? (check)")):
            before = session([rep(1, mode, (3,), signs=yelp, doubtful=doubtful)])
            marks = tuple(
                one.model_copy(update={"level": None}) for one in before.reps[0].sign_marks
            )
            bare = before.reps[0].model_copy(update={"sign_marks": marks})
            last = [
                row.last.too_much
                for row in level_rows(session([rep(1)]), session([bare]))
                if row.last and row.label == label
            ]
            assert last == [words], (mode, doubtful)


def test_two_weak_signs_are_stress_but_not_a_strong_sign() -> None:
    weak = tap(1, 2, "lip lick", "weak", stress=True)
    assert count_lines(session([weak])) == ("1 find-level tap, counted apart: 1 weak sign at 2",)


def test_first_call_leaves_out_reps_with_no_call_or_no_outcome() -> None:
    work = session([rep(1), rep(2, cues=0, cue=None), rep(3, outcome=None), rep(4, cues=3)])
    assert count_lines(work) == (
        "4 recalls: 2 no button, 1 no button at a later call, 1 outcome not said; unaided "
        "at the first call 1 of 2",
    )


def test_a_stimulus_of_any_kind_is_no_first_call() -> None:
    pressed = [rep(2, "vibrate"), rep(3, "tone"), rep(4, "momentary", (2,)), rep(5, "unknown")]
    assert count_lines(session([rep(1), *pressed]))[0].endswith(
        "; unaided at the first call 1 of 5; 4 more with the button, or nothing said of it"
    )


def test_every_outcome_has_its_own_words() -> None:
    work = session(
        [
            rep(1, "vibrate"),
            rep(2, "tone", outcome="slow"),
            rep(3, "continuous", (3,), "slow"),
            rep(4, "unknown"),
            rep(5, "continuous"),
            rep(6, outcome="partial"),
            rep(7, outcome="left"),
            rep(8, outcome="broke"),
        ]
    )
    assert count_lines(work)[0] == (
        "8 recalls: 1 answered on vibrate, 1 came (button not said), 1 came (level not said), "
        "1 slow on tone, 1 slow at 3, 1 partway, 1 peeled off, 1 broke; unaided "
        "at the first call 0 of 8; 5 more with the button, or nothing said of it"
    )


def test_no_reps_and_no_sure_reps_are_said_plainly() -> None:
    assert count_lines(session()) == ("No reps in this session.",)
    assert count_lines(session([rep(1, doubtful=True)])) == (
        "1 rep (1 to check); none is sure, so none counts",
        "Not counted: rep 1 (check)",
    )


@given(sessions(most=12))
def test_the_parts_of_a_count_add_up_to_the_sure_reps(work: Session) -> None:
    total = 0
    for line in count_lines(work):
        found = re.match(r"(\d+) [^:]*: (.*?)(; unaided .*)?$", line)
        if found and not line.startswith("Not counted"):
            parts = re.sub(r" at [\d, and]+(?=,|$)", "", found[2]).split(", ")
            assert sum(int(part.split()[0]) for part in parts) == int(found[1])
            total += int(found[1])
    assert total == sum(1 for rep in work.reps if sure(rep))


def test_a_rolled_back_rep_was_answered_at_its_highest_level() -> None:
    assert answered_at(rep(1, "continuous", (2, 3, 1))) == 3
    assert answered_at(rep(1, "continuous", (2, 3, 1), "ignored")) is None
    assert answered_at(rep(1)) is None


def test_levels_keep_drills_and_modes_apart_beside_last_time() -> None:
    before = session([rep(1, "continuous", (1,))])
    assert level_rows(full_session(), before) == (
        LevelRow(
            label="recall, continuous",
            now=LevelCells(noticed="2", answered="2 (3 reps)", too_much="4"),
            last=LevelCells(answered="1 (1 rep)"),
        ),
        LevelRow(
            label="find level, momentary",
            now=LevelCells(noticed="2", answered="-"),
            last=LevelCells(noticed="not worked", answered="-", too_much="-"),
        ),
    )


def test_a_strong_sign_to_check_is_shown_but_an_answer_to_check_is_not() -> None:
    work = session(
        [
            rep(1, "continuous", (3,), doubtful=True, signs=(("yelped", "strong"),)),
            rep(2, "continuous", (2,), doubtful=True),
            rep(3, "continuous", (5,), signs=(("yelped", "strong"),), outcome="ignored"),
        ]
    )
    assert level_rows(work)[0].now == LevelCells(too_much="5, or 3? (check)")


def test_a_void_rep_gives_no_level() -> None:
    assert level_rows(session([rep(1, "continuous", (3,), void=True)])) == ()


def test_another_transmitter_is_never_set_beside() -> None:
    before = session([rep(1, "continuous", (40,))], top=100)
    now = session([rep(1, "continuous", (2,))], top=12)
    assert before.dog.transmitter == Transmitter(top=100)
    assert [row.last for row in level_rows(now, before)] == [None]


def test_no_count_of_answers_hides_a_strong_sign_or_a_call_that_was_ignored() -> None:
    work = session(
        [
            rep(1, "continuous", (9,), signs=(("yelped", "strong"),)),
            rep(2, "continuous", (6,), failed_first="ignored"),
            rep(3, outcome="helped", failed_first="left"),
        ]
    )
    assert count_lines(work) == (
        "3 recalls: 1 answered at 6 after it ignored the call, 1 answered at 9 (yelped), 1 line "
        "help after it peeled off; unaided at the first call 0 of 3; 1 more with the button, "
        "or nothing said of it",
    )
