"""Numbers are held against the numbers they are soonest mistaken for."""

from __future__ import annotations

import pytest
from hypothesis import given

from tests.strategies import notes
from voicelog.grammar.grammar import Grammar
from voicelog.grammar.number_confusions import number_confusions
from voicelog.model import Dog, Phrase, Roster
from voicelog.model.phrases import phrase_meaning

GRAMMAR = Grammar.load(roster=Roster(dogs=(Dog(name="Bracken"),)))


@pytest.mark.parametrize(
    ("words", "others"),
    [
        ("level three came", ["level two came", "level four came", "level thirty came"]),
        ("level one", ["level zero", "level two", "level ten"]),
        ("level twenty five", ["level twenty four", "level twenty six"]),
        ("level one hundred", ["level ninety nine"]),
        ("distance twenty metres", ["distance nineteen metres", "distance twenty one metres"]),
    ],
)
def test_one_less_one_more_and_ten_times_as_much(words: str, others: list[str]) -> None:
    found = [GRAMMAR.interpret(one) for one in number_confusions(GRAMMAR, words)]
    for other in others:
        wanted = GRAMMAR.interpret(other)
        if wanted is not None:
            assert wanted in found
    assert len(found) <= 3


def test_each_number_has_its_neighbours_the_others_kept() -> None:
    found = number_confusions(GRAMMAR, "level five distance forty metres")
    assert {"level six distance forty metres", "level five distance thirty nine metres"} <= {*found}


@pytest.mark.parametrize("words", ["came", "no button", "start session bracken", "", "good girl"])
def test_without_a_number_there_are_none(words: str) -> None:
    assert number_confusions(GRAMMAR, words) == ()


@given(notes(GRAMMAR))
def test_neighbours_are_other_notes_of_the_same_kinds(note: tuple[Phrase, ...]) -> None:
    words = GRAMMAR.speak(note)
    found = number_confusions(GRAMMAR, words)
    assert words not in found
    for other in found:
        phrases = GRAMMAR.interpret(other)
        assert phrases is not None
        assert phrase_meaning(phrases) != phrase_meaning(GRAMMAR.interpret(words) or ())
