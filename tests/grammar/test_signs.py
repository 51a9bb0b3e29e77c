"""The signs read from the file are those that the whole grammar hears."""

from __future__ import annotations

from voicelog.grammar.grammar import Grammar
from voicelog.grammar.signs import signs
from voicelog.model.aggression import AGGRESSION_SIGNS
from voicelog.model.phrases import phrase_slots
from voicelog.safety.settings import Settings


def test_every_sign_has_the_class_that_the_grammar_gives_it() -> None:
    grammar = Grammar.load()
    for sign, class_ in signs().items():
        phrases = grammar.interpret(sign)
        assert phrases is not None
        assert phrase_slots(phrases[0]) == {"sign": sign, "class": class_}
    assert set(signs().values()) == {"noticed", "none", "weak", "strong"}


def test_what_ends_a_day_or_a_session_is_a_strong_sign() -> None:
    strong = {sign for sign, class_ in signs().items() if class_ == "strong"}
    assert strong >= set(Settings().ending_signs) >= AGGRESSION_SIGNS
