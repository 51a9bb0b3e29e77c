"""A card holds what it promises, in lines that are notes."""

from __future__ import annotations

import pytest

from voicelog.grammar.grammar import LEVEL, Grammar
from voicelog.grammar.reading_card import LINES, MAX_CARD_DOGS, card
from voicelog.model import Dog, Roster
from voicelog.model.phrases import phrase_slots

ROSTER = Roster(dogs=tuple(Dog(name=name) for name in ("Bracken", "Wren", "Tansy", "Moss")))


@pytest.fixture(scope="module")
def grammar() -> Grammar:
    return Grammar.load(roster=ROSTER)


@pytest.mark.parametrize("top", [5, 20, 100])
def test_a_card_holds_every_number_word_up_to_the_top(grammar: Grammar, top: int) -> None:
    said = {word for line in card(grammar, top) for word in line.split()}
    for number, words in grammar.numbers(LEVEL).items():
        if number <= top:
            assert said.issuperset(words.split())


@pytest.mark.parametrize("top", [5, 100])
def test_a_card_holds_every_outcome_and_every_sign(grammar: Grammar, top: int) -> None:
    phrases = [phrase for line in card(grammar, top) for phrase in grammar.interpret(line) or ()]
    for kind, slot in (("outcome", "outcome"), ("outcome", "word"), ("sign", "sign")):
        wanted = {form.slots.get(slot) for form in grammar.forms if form.kind == kind}
        held = {phrase_slots(phrase).get(slot) for phrase in phrases if phrase.kind == kind}
        assert wanted <= held


def test_a_card_calls_the_first_dogs_by_name(grammar: Grammar) -> None:
    said = " ".join(card(grammar, 20))
    assert [dog.name.lower() in said for dog in ROSTER.dogs] == [True] * MAX_CARD_DOGS + [False]


@pytest.mark.parametrize("top", [5, 20, 100])
def test_a_card_is_thirty_notes_and_the_same_each_time(grammar: Grammar, top: int) -> None:
    lines = card(grammar, top)
    assert len(lines) == len(set(lines)) == LINES
    assert all(grammar.interpret(line) is not None for line in lines)
    assert card(grammar, top) == lines


def test_without_dogs_a_card_has_no_names() -> None:
    lines = card(Grammar.load(), 20)
    assert lines
    assert not any("session" in line for line in lines)
