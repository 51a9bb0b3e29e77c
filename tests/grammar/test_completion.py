"""What a person begins to type is completed to notes of the grammar, and to nothing else."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicelog.grammar.completion import completions
from voicelog.grammar.grammar import Grammar
from voicelog.model import Dog, Roster

GRAMMAR = Grammar.load(roster=Roster(dogs=(Dog(name="Bracken"), Dog(name="Wren"))))


@pytest.mark.parametrize(
    ("typed", "first"),
    [
        ("neck", "neck twitch"),
        ("nt", "neck twitch"),
        ("l9", "level nine"),
        ("level 25", "level twenty five"),
        ("l9 came", "level nine came"),
        ("LEVEL 3, came", "level three came"),
        ("start session w", "start session wren"),
        ("nb came", "no button came"),
        ("came", "came"),
    ],
)
def test_the_likeliest_note_comes_first(typed: str, first: str) -> None:
    assert completions(GRAMMAR, typed)[0].words == first


def test_the_reading_at_hand_lends_its_words() -> None:
    assert completions(GRAMMAR, "9", like="tap five")[0].words == "tap nine"
    assert completions(GRAMMAR, "9", like="level five")[0].words == "level nine"


def test_what_was_said_elsewhere_is_likelier() -> None:
    assert completions(GRAMMAR, "l9 c", spoken={"came"})[0].words == "level nine came"
    assert completions(GRAMMAR, "l9 c", spoken={"confused"})[0].words == "level nine confused"


@pytest.mark.parametrize("typed", ["", "  ", "zzz", "9999", "came zzz", "<script>"])
def test_nothing_is_offered_where_nothing_fits(typed: str) -> None:
    assert completions(GRAMMAR, typed) == ()


def test_no_more_is_offered_than_asked_for() -> None:
    assert len(completions(GRAMMAR, "c", limit=3)) == 3


@given(st.text(max_size=40))
def test_every_offer_is_a_note(typed: str) -> None:
    for found in completions(GRAMMAR, typed):
        assert GRAMMAR.interpret(found.words) is not None
