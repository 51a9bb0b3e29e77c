"""Names of dogs and handlers in what a person types: taken as they are typed, never guessed.

A level that was mistyped is seen when it is looked at; the reps of one dog under another's name
look right, so the likeness of two names says nothing of whom was meant.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from itertools import pairwise

from voicelog.grammar.grammar import Grammar, normalize
from voicelog.model import Slot
from voicelog.model.phrases import phrase_slots

__all__ = ["called_stranger", "names_are_typed", "spoken_names_in", "unknown_name"]


def spoken_names_in(slots: Mapping[str, Slot]) -> tuple[str, ...]:
    """The names that a phrase carries in its slots, as words."""
    return tuple(normalize(str(slots[slot])) for slot in ("dog", "handler") if slot in slots)


def names_are_typed(grammar: Grammar, text: str, note: str) -> bool:
    """Whether every name that `note` holds by the grammar stands in `text`, letter by letter and as
    often."""
    named = Counter(
        name
        for phrase in grammar.interpret(note) or ()
        for name in spoken_names_in(phrase_slots(phrase))
    )
    typed = f" {' '.join(grammar.verbalize(text).split())} ".replace(" ", "  ")
    return all(
        typed.count(f" {name.replace(' ', '  ')} ") >= count for name, count in named.items()
    )


def unknown_name(grammar: Grammar, text: str) -> str | None:
    """The first word of `text` that stands where, by the grammar, only a name may, and is none of
    the roster."""
    roster = grammar.roster
    names = (*(dog.name for dog in roster.dogs), *roster.handlers)
    of_names = {word for name in names for word in normalize(name).split()}
    states = {grammar.graph.start}
    for word in grammar.verbalize(text).split():
        onward = {state: grammar.graph.onward(state) for state in states}
        expected = {one for ways in onward.values() for one in ways}
        if expected and expected <= of_names and word not in expected:
            return word
        states = {step.state for ways in onward.values() for step in ways.get(word, ())}
        if not states:
            return None
    return None


def called_stranger(grammar: Grammar, text: str) -> str | None:
    """The first word of `text` that stands right before a cue and is none of the grammar, nor a
    short form: it may be a dog that is not on the roster. None where there is none."""
    cues = {normalize(cue) for dog in grammar.roster.dogs for cue in dog.cues}
    words = normalize(text).split()
    for word, after in pairwise(words):
        known = word in grammar.words or word in grammar.abbreviations
        if after in cues and word.isalpha() and not known:
            return word
    return None
