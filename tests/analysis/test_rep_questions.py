"""A rep of which something is missing or cannot be so is one question, with answers."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.session.said import session_of
from tests.strategies import REP_PIECE
from voicelog.analysis.rep_questions import RepQuestion, rep_questions
from voicelog.model import Dog, Roster, Transmitter
from voicelog.model.domain import FIND_LEVEL
from voicelog.report.wording.rep_questions import spoken_rep_question

TWENTY = Roster(dogs=(Dog(name="Bracken", transmitter=Transmitter(top=20)),))


def asked(*lines: str) -> list[tuple[int, str, str]]:
    found = rep_questions(session_of(*lines, roster=TWENTY))
    return [(one.rep, one.why, spoken_rep_question([one])) for one in found]


@pytest.mark.parametrize(
    ("lines", "question"),
    [
        (["here", "level 2"], (1, "no outcome", "Rep 1: came, ignored, line help?")),
        (["here", "level 2", "end session"], (1, "no outcome", "Rep 1: came, ignored, line help?")),
        (["0 here", "30 here", "33 came"], (1, "no outcome", "Rep 1: came, ignored, line help?")),
        (["0 here", "5 came", "9 ignored"], (1, "outcomes", "Rep 1: came, ignored?")),
        (["0 here", "500 line help"], (1, "late", "Rep 1: line help, came, ignored?")),
        (["0 tap 3 came", "4 no button"], (1, "button", "Rep 1: no button, tap 3?")),
        (["0 vibrate came", "4 no button"], (1, "button", "Rep 1: no button, vibrate?")),
        (["0 here", "3 xmumble", "6 came slow"], None),
        (["level 30 came"], (1, "level", "Rep 1 to answer tonight")),
        (["drill steady", "no button"], (1, "no outcome", "Rep 1: stood fast, broke?")),
        (["drill place", "no button"], (1, "no outcome", "Rep 1: on place, ignored?")),
    ],
    ids=str,
)
def test_what_is_asked(lines: list[str], question: tuple[int, str, str] | None) -> None:
    assert asked(*lines) == ([] if question is None else [question])


def test_both_reps_are_asked_about_where_a_word_may_be_of_either() -> None:
    assert asked("0 here", "2 came", "5 no button", "9 ignored") == [
        (1, "two reps", "Rep 1: came, no button came?"),
        (2, "two reps", "Rep 2: ignored, no button ignored?"),
    ]


@pytest.mark.parametrize(
    "lines",
    [
        ["here", "level 2", "came"],
        ["here", "?level 2", "came"],  # the entry is asked about
        ["?here", "level 2"],
        ["here level 2", "strike that"],
        ["here level 2 came", "?correction ignored"],
        ["drill find level", "tap 1", "tap 2", "nothing"],
    ],
    ids=str,
)
def test_what_is_not_asked(lines: list[str]) -> None:
    assert asked(*lines) == []


def test_the_last_rep_of_a_session_that_goes_on_is_not_asked_about_yet() -> None:
    session = session_of("0 here", "20 here")
    assert [one.rep for one in rep_questions(session, running=True)] == [1]
    assert [one.rep for one in rep_questions(session)] == [1, 2]


@given(st.lists(st.lists(REP_PIECE, min_size=1, max_size=3).map(" ".join), max_size=8))
def test_every_rep_that_counts_in_doubt_is_asked_about_or_one_of_its_entries_is(
    said: list[str],
) -> None:
    session = session_of("drill recall", *said)
    about = {one.rep for one in rep_questions(session)}
    open_to_doubt = {
        rep.number
        for rep in session.reps
        if rep.doubtful or (rep.outcome is None and rep.drill != FIND_LEVEL)
    }
    assert about == open_to_doubt  # nothing here was heard in doubt


def test_several_are_told_as_a_number() -> None:
    one = RepQuestion(2, "u.1", 3.0, "no outcome", ())
    assert spoken_rep_question([one, one]) == "2 reps to answer tonight"
