"""What was heard in doubt never counts as sure, and never hides what was sure."""

from __future__ import annotations

import pytest

from tests.session.said import ROSTER, reps_of, said, session_of, short
from voicelog.session.variants import assemble, session_variants


def test_a_rep_heard_in_doubt_is_doubtful() -> None:
    assert [short(r) for r in reps_of("?level 3 came", "level 2 came")] == [
        "1 | continuous | 3 | complied |  | doubtful",
        "2 | continuous | 2 | complied | ",
    ]


@pytest.mark.parametrize(
    "lines",
    [
        ["?here", "level 3", "came"],
        ["here", "?level 3", "came"],
        ["here", "level 3", "?came"],
        ["here", "level 3", "came", "?yelped"],
        ["here", "level 3", "came", "?treat"],
        ["here", "level 3", "?thumb off", "came"],
        ["here", "level 3", "?committed", "came"],
        ["?collar fitted", "here", "came"],  # mode: none or unknown
    ],
    ids=str,
)
def test_a_piece_heard_in_doubt_makes_its_rep_doubtful(lines: list[str]) -> None:
    assert [rep.doubtful for rep in reps_of(*lines)] == [True]


@pytest.mark.parametrize("piece", ["?say level", "?affirm", "?flag that", "?location woods"])
def test_a_rep_that_comes_out_the_same_without_the_doubt_is_sure(piece: str) -> None:
    assert [rep.doubtful for rep in reps_of("here", piece, "level 3", "came")] == [False]


def test_a_sign_in_doubt_with_no_rep_leaves_the_reps_sure() -> None:
    assert [rep.doubtful for rep in reps_of("0 level 3 came", "60 ?yelped")] == [False]


@pytest.mark.parametrize(
    ("condition", "field"),
    [
        ("distraction high", "distraction"),
        ("drill recall", "drill"),
        ("distance 20 metres", "distance"),
    ],
)
def test_a_condition_heard_in_doubt_is_null_and_the_rep_still_counts(
    condition: str, field: str
) -> None:
    (rep,) = reps_of(f"?{condition}", "here came")
    assert (getattr(rep, field), rep.doubtful) == (None, False)


def test_a_doubtful_change_of_a_condition_leaves_neither_value() -> None:
    reps = reps_of("distraction low", "here came", "?distraction high", "here came")
    assert [(rep.distraction, rep.doubtful) for rep in reps] == [("low", False), (None, False)]


def test_a_condition_said_again_for_sure_holds() -> None:
    reps = reps_of("?distraction high", "distraction high", "here came")
    assert [rep.distraction for rep in reps] == ["high"]


@pytest.mark.parametrize("edit", ["strike that", "correction ignored"])
def test_an_edit_heard_in_doubt_makes_the_last_rep_doubtful_and_voids_nothing(edit: str) -> None:
    reps = reps_of("level 1 came", "level 2 came", f"?{edit}")
    assert [(rep.void, rep.doubtful) for rep in reps] == [(False, False), (False, True)]


def test_a_numbered_strike_heard_in_doubt_makes_that_rep_doubtful() -> None:
    reps = reps_of("level 1 came", "level 2 came", "?strike rep 1")
    assert reps[0].doubtful
    assert not reps[0].void


def test_no_contact_heard_in_doubt_never_lets_the_rep_count() -> None:
    (rep,) = reps_of("level 3 ignored", "?no contact")
    assert rep.doubtful


def test_a_dog_named_in_doubt_makes_its_reps_doubtful() -> None:
    lines = ["start session Bracken", "here came", "?next dog Wren", "here came"]
    seen = session_variants(said(*lines), ROSTER)
    assert [[rep.doubtful for rep in world.with_doubtful.reps] for world in seen] == [
        [False],
        [True],
    ]


@pytest.mark.parametrize("silence", ["?pause log", "?memo", "?end session"])
def test_a_silence_heard_in_doubt_does_not_hide_what_was_surely_said(silence: str) -> None:
    (world,) = session_variants(
        said("here came", silence, "level 9 came yelped"), ROSTER, dog="Bracken"
    )
    assert [rep.peak_level for session in world.sure for rep in session.reps] == [None, 9]


def test_rejected_entries_keep_their_place_and_change_nothing() -> None:
    session = session_of("here", "xlevel five no", "came", "xyelped")
    assert [short(rep) for rep in session.reps] == ["1 | none |  | complied | "]
    assert session.entries == ("u000", "u001", "u002", "u003")
    assert session.placed == ("u000", "u002")


def test_without_doubt_the_sure_world_is_the_believed_one() -> None:
    for world in session_variants(said("here came", "level 2 ignored"), ROSTER, dog="Bracken"):
        assert world.sure == (world.with_doubtful,)
        assert world.uncorrected == (world.with_doubtful,)


def test_what_was_struck_or_corrected_still_stands_for_the_safety_rules() -> None:
    lines = ["level 9 came yelped", "strike that", "level 8 came", "correction level 2"]
    (world,) = session_variants(said(*lines), ROSTER, dog="Bracken")
    assert [(rep.peak_level, rep.void) for rep in world.with_doubtful.reps] == [
        (9, True),
        (2, False),
    ]
    assert [(r.peak_level, r.void) for s in world.uncorrected for r in s.reps] == [
        (9, False),
        (8, False),
    ]
    assert [r.stress for s in world.uncorrected for r in s.reps] == [True, False]


def test_a_rep_that_may_have_lost_a_word_is_doubtful() -> None:
    """A sound that was rejected, but may well have been a note, leaves its rep incomplete."""
    entries = list(said("here", "level two", "x came", "came", dog="Bracken"))
    talk, missed = 0.0, 0.2
    for confidence, doubtful in ((talk, False), (missed, True)):
        entries[2] = entries[2].model_copy(update={"confidence": confidence})
        ((rep,),) = (session.reps for session in assemble(entries, ROSTER, dog="Bracken"))
        assert rep.doubtful == doubtful
