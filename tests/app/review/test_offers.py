"""The order of the readings on offer for an entry to check."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicelog.app.grammars import grammar_with
from voicelog.app.review.review_queue import offers
from voicelog.model import Dog, Entry, Roster, Transmitter

GRAMMAR = grammar_with(Roster(dogs=(Dog(name="Wren", transmitter=Transmitter(top=20)),)), ())


def offered(reading: str, *alternatives: str, heard: tuple[str, ...] = ()) -> list[str]:
    entry = Entry(
        id="u",
        start_s=1.0,
        end_s=2.0,
        status="doubtful",
        reading=reading,
        phrases=GRAMMAR.interpret(reading) or (),
        alternatives=alternatives,
    )
    return list(offers(entry, heard, GRAMMAR.interpret))


@pytest.mark.parametrize(
    ("reading", "plain", "adding"),
    [
        ("skin red", "skin clear", "collar off skin red level five"),
        ("ear flick", "head turn", "ear flick level five"),
        ("came", "came slow", "level nine came"),
        ("came", "came ear flick", "strike that came"),
    ],
)
def test_what_adds_an_order_or_a_level_is_not_offered_first(
    reading: str, plain: str, adding: str
) -> None:
    assert offered(reading, adding, plain) == [plain, adding]
    assert offered(reading, adding) == [adding]  # and never left out


def test_the_likeliest_is_offered_first_where_none_adds_an_order() -> None:
    assert offered("level nine", "level five came", "level five") == [
        "level five came",
        "level five",
    ]
    assert offered("not a note", "level nine came", "came") == ["level nine came", "came"]


WORDS = (
    "skin red", "collar off skin red", "level five", "came", "level nine came", "here level two",
    "no button", "strike that", "ear flick", "no such words",
)  # fmt: skip


@given(st.sampled_from(WORDS), st.lists(st.sampled_from(WORDS)), st.lists(st.sampled_from(WORDS)))
def test_no_reading_is_left_out_by_the_order(
    reading: str, alternatives: list[str], heard: list[str]
) -> None:
    found = offered(reading, *alternatives, heard=tuple(heard))
    notes = {words for words in (*alternatives, *heard) if GRAMMAR.interpret(words)}
    assert sorted(found) == sorted(notes - {reading})
