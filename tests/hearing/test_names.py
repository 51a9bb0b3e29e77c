"""Which words of a reading say whose session it is."""

from __future__ import annotations

import pytest

from voicelog.grammar.grammar import Grammar
from voicelog.hearing.names import name_places, other_names
from voicelog.model import Dog, Roster

GRAMMAR = Grammar.load(
    roster=Roster(
        dogs=(Dog(name="Bracken"), Dog(name="Old Tom"), Dog(name="Wren", cues=("here",))),
        handlers=("Anna", "Robin"),
    )
)


@pytest.mark.parametrize(
    ("words", "places"),
    [
        ("start session bracken", (2,)),
        ("next dog old tom", (2, 3)),
        ("came next dog wren collar fitted", (3,)),
        ("wrong dog wren", (2,)),
        ("handler anna", (1,)),
        ("level three came", ()),
        ("wren here level three", ()),
        ("end session", ()),
    ],
)
def test_the_words_that_name_whose_session_it_is(words: str, places: tuple[int, ...]) -> None:
    phrases = GRAMMAR.interpret(words)
    assert phrases is not None
    assert name_places(phrases) == places


@pytest.mark.parametrize(
    ("words", "others"),
    [
        ("next dog old tom", ("next dog bracken", "next dog wren")),
        ("handler anna", ("handler robin",)),
        ("level three came", ()),
        ("good girl", ()),
    ],
)
def test_the_other_names_in_its_place(words: str, others: tuple[str, ...]) -> None:
    assert other_names(GRAMMAR, words) == others
