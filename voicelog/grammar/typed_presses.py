"""Presses and levels in what a person types: offered only where something of one was typed.

Speech may have been heard wrongly, so no rival of it is left out. Letters are what they are: who
typed "skin red left side" gave no level, and a wrong key would book a press that nobody gave.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache
from itertools import groupby

from voicelog.grammar.grammar import Grammar
from voicelog.grammar.typed_slips import is_slip
from voicelog.grammar.within_text import FILLING
from voicelog.model import Phrase
from voicelog.model.phrases import (
    LevelPhrase,
    ModePhrase,
    NotchPhrase,
    named_level,
)

__all__ = ["presses_are_typed", "tells_of_press"]

_BEGUN = 3
"""Letters typed of a longer word that are its beginning ("vibr")."""


def presses_are_typed(grammar: Grammar, texts: Iterable[str], note: str) -> bool:
    """Whether `note` has, by the grammar, no level and no press, or one of `texts` (what was
    typed, with its short forms written out in each way) has a number, or a word that a press or
    level of `note` is said with, a slip of the hand or a beginning of it. Where a number was typed,
    `note` has no other."""
    texts = tuple(texts)
    typed_numbers = {one for text in texts for one in _numbers(grammar, text)}
    if typed_numbers and not typed_numbers.issuperset(_numbers(grammar, note)):
        return False
    told = [one for one in grammar.interpret(note) or () if _is_press(one)]
    if not told:
        return True
    numbers = {part for number in grammar.numerals.values() for part in number.split()}
    said = {word for one in told for word in one.words.split()} - FILLING - numbers
    typed = {word for text in texts for word in grammar.verbalize(text).split()}
    return any(
        word in numbers
        or any(letter.isdigit() for letter in word)
        or any(_may_be(word, meant) for meant in said)
        for word in typed
    )


def tells_of_press(grammar: Grammar, text: str) -> bool:
    """Whether a text has a word with which the grammar tells of a press, though it may be no note
    ("level to")."""
    return not _press_words(grammar).isdisjoint(grammar.verbalize(text).split())


@lru_cache(maxsize=16)
def _press_words(grammar: Grammar) -> frozenset[str]:
    words = {
        part
        for form in grammar.forms
        if form.kind == "stimulus"
        for part in form.parts
        if isinstance(part, str)
    }
    return frozenset(words - FILLING)


def _numbers(grammar: Grammar, text: str) -> set[str]:
    """The numbers in a text, each whole: "twenty five" is one, and not five."""
    parts = {part for number in grammar.numerals.values() for part in number.split()}
    runs = groupby(grammar.verbalize(text).split(), key=lambda word: word in parts)
    return {" ".join(words) for is_number, words in runs if is_number}


def _is_press(phrase: Phrase) -> bool:
    if isinstance(phrase, ModePhrase):
        return phrase.do != "none"
    return isinstance(phrase, LevelPhrase | NotchPhrase) or named_level(phrase) is not None


def _may_be(typed: str, meant: str) -> bool:
    return (
        typed == meant
        or is_slip(typed, meant)
        or (len(typed) >= _BEGUN and meant.startswith(typed))
    )
