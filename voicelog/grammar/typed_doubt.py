"""Doubt in a typed note that its words do not show: a mark by a number, "twice" after a press.

Who types "level 3?" is not sure of it, and "level 3 twice" may tell of two presses or of two calls.
Taken as they stand, such notes would look sure and be wrong.
"""

from __future__ import annotations

import re
import unicodedata
from itertools import pairwise

from voicelog.grammar.grammar import Grammar, normalize
from voicelog.grammar.typed_slips import number_words
from voicelog.model.phrases import CueCountPhrase, LevelPhrase, ModePhrase, NotchPhrase

__all__ = ["called_or_pressed", "doubted_parts"]

_DOUBTED = re.compile(r"\S+\s*\?+|\S*\d\s*\+|[^\W\d]+\+(?!\S)|[~≈±<>]\s*\d+")


def doubted_parts(text: str) -> tuple[str, ...]:
    """The parts of a text that its writer marked as not sure: "3?", "3+", "~3"; as typed, and
    "came?" as well."""
    plain = unicodedata.normalize("NFKC", text)
    return tuple(" ".join(found[0].split()) for found in _DOUBTED.finditer(plain))


def called_or_pressed(grammar: Grammar, text: str, note: str) -> tuple[str, ...]:
    """What a text means of which `note` is the one reading, where it has a short form for how often
    the dog was called right after a press: those calls, or that press again. Empty where it has
    none."""
    short = {
        form
        for form, meanings in grammar.abbreviations.items()
        if any(
            isinstance(one, CueCountPhrase)
            for meant in meanings
            for one in grammar.interpret(meant) or ()
        )
    }
    typed = normalize(text).split()
    if not any(word in short and _ends_press(grammar, before) for before, word in pairwise(typed)):
        return ()
    phrases = list(grammar.interpret(note) or ())
    for place, one in enumerate(phrases):
        before = phrases[place - 1] if place else None
        if isinstance(one, CueCountPhrase) and isinstance(
            before, LevelPhrase | ModePhrase | NotchPhrase
        ):
            again = grammar.speak([*phrases[:place], before, *phrases[place + 1 :]])
            return (note, again) if grammar.interpret(again) is not None else (note,)
    return ()


def _ends_press(grammar: Grammar, word: str) -> bool:
    """Whether a word may end what tells of a press: a number, or "tone"."""
    if word in number_words(grammar) or any(letter.isdigit() for letter in word):
        return True
    meant = (word, *grammar.abbreviations.get(word, ()))
    phrases = [one for words in meant for one in grammar.interpret(words) or ()]
    return any(isinstance(one, ModePhrase | NotchPhrase) for one in phrases)
