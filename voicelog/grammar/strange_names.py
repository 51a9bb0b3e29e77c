"""Names in what was typed that the roster does not have: of a dog, a handler, or a cue.

A word is one where the note is a note with a name in its place. It is never taken for a name that
the roster has: whose it is, a person says. What is spoken is heard against the grammar, in which
such names do not lie; of those `recognition` tells.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from typing import Literal, NamedTuple

from voicelog.grammar.grammar import Grammar, normalize
from voicelog.grammar.typed_names import unknown_name
from voicelog.grammar.typed_note import note_of, written_out
from voicelog.model import Dog, Phrase, Roster
from voicelog.model.phrases import (
    CuePhrase,
    HandlerPhrase,
    LevelPhrase,
    ModePhrase,
    OutcomePhrase,
    SessionDogPhrase,
)

__all__ = [
    "NameKind",
    "StrangeBegin",
    "StrangeWord",
    "begun_by_name",
    "begun_by_stranger",
    "strange_word",
]

NameKind = Literal["dog", "handler", "cue"]
StrangeBegin = Literal["start", "wrong dog", "handler"]
"""What words with an unknown name do to the session: they begin another, say that this one is of
another dog, or name who works it."""

_DOG, _HANDLER, _CUE = "zyxdog", "zyxhandler", "zyxcue"
"""Names that nobody has, for the place of one that is not known."""
_MOST_TEXTS = 4
"""Ways to write out short forms that are looked at."""
_LONGEST_NAME = 2
"""Words of a name, at most."""
_LONGEST_TEXT = 200
"""Letters of a text beyond which no name is looked for."""
_EVERYDAY_TEXT = (
    "again also and both but dog eventually finally first good he him her it just later nice now "
    "ok okay oh she so still then there they we well yes"
)
_EVERYDAY = frozenset(_EVERYDAY_TEXT.split())
"""Words that stand before a note and are no cue."""


class StrangeWord(NamedTuple):
    """A name that the roster does not have, in small letters, and what it would be the name of;
    `begins`: what its words do to the session, None where they do nothing to it."""

    name: str
    kind: NameKind
    begins: StrangeBegin | None = None


@lru_cache(maxsize=4096)
def strange_word(grammar: Grammar, text: str) -> StrangeWord | None:
    """The name in a typed text that the roster does not have; None where there is none, and where
    the text is a note without."""
    if not text or len(text) > _LONGEST_TEXT or note_of(grammar, text) is not None:
        return None
    opened = _opened(grammar)
    for words in written_out(opened, text)[:_MOST_TEXTS]:
        if (named := _in_place_of_name(opened, words)) is not None:
            return named
    spoken = normalize(text).split()
    called = (_called(opened, spoken, first, last) for first, last in _runs(grammar, spoken))
    return next(filter(None, called), None) or _asked(grammar, opened, spoken)


def begun_by_stranger(grammar: Grammar, text: str) -> StrangeBegin | None:
    """What a text that was not understood does to the session by a name that is not known."""
    found = strange_word(grammar, text)
    return None if found is None else found.begins


@lru_cache(maxsize=16)
def _opened(grammar: Grammar) -> Grammar:
    """The grammar with a dog, a handler and a cue more, whose names nobody has."""
    roster = grammar.roster
    stranger = Dog(name=_DOG, cues=(*roster.cues, _CUE))
    return grammar.with_roster(
        Roster(dogs=(*roster.dogs, stranger), handlers=(*roster.handlers, _HANDLER))
    )


def _in_place_of_name(opened: Grammar, words: str) -> StrangeWord | None:
    """The word where only a name may stand, with those of the name beside it."""
    name = unknown_name(opened, words)
    if name is None:
        return None
    spoken = words.split()
    for at in (place for place, word in enumerate(spoken) if word == name):
        for start in (at, at - 1):
            begins = _begun(opened, spoken[: max(0, start)])
            if begins is None:
                continue
            end = at + 1
            while end < min(len(spoken), start + _LONGEST_NAME) and spoken[end] not in opened.words:
                end += 1
            kind: NameKind = "handler" if begins == "handler" else "dog"
            return StrangeWord(" ".join(spoken[start:end]), kind, begins)
    return None


def _begun(opened: Grammar, before: list[str]) -> StrangeBegin | None:
    """What these words do to the session with a name after them."""
    for stand_in in (_DOG, _HANDLER):
        phrases = opened.interpret(" ".join((*before, stand_in)))
        if phrases and (begins := begun_by_name(phrases[-1])) is not None:
            return begins
    return None


def begun_by_name(phrase: Phrase) -> StrangeBegin | None:
    """What a phrase does to the session by the name in it, where that is not known."""
    match phrase:
        case SessionDogPhrase(do="wrong dog"):
            return "wrong dog"
        case SessionDogPhrase():
            return "start"
        case HandlerPhrase():
            return "handler"
        case _:
            return None


def _runs(grammar: Grammar, words: list[str]) -> Iterator[tuple[int, int]]:
    """From where to where words stand together that the grammar does not have."""
    strange = [
        word.isalpha() and word not in grammar.words and word not in grammar.abbreviations
        for word in words
    ]
    first = 0
    while first < len(words):
        last = first
        while last < len(words) and strange[last]:
            last += 1
        if 0 < last - first <= _LONGEST_NAME:
            yield first, last
        first = last + 1


def _called(opened: Grammar, words: list[str], first: int, last: int) -> StrangeWord | None:
    """The words from `first` to before `last`, where with a dog's name for them all is a note that
    calls it."""
    phrases = _with(opened, words, first, last, _DOG)
    if any(isinstance(one, CuePhrase) and one.dog == _DOG for one in phrases):
        return StrangeWord(" ".join(words[first:last]), "dog")
    return None


def _asked(grammar: Grammar, opened: Grammar, words: list[str]) -> StrangeWord | None:
    """The word at the head of a text, or after a dog's name there, where with a cue for it all is a
    note of one call of which more is told: how, and how it ended."""
    names = {normalize(dog.name) for dog in grammar.roster.dogs}
    at = 1 if words[:1] and words[0] in names else 0
    name = words[at] if at < len(words) else ""
    if len(name) < 2 or not name.isalpha() or name in _EVERYDAY or name in grammar.abbreviations:
        return None
    if name in grammar.graph.onward(grammar.graph.start):
        return None  # the first half of another note
    phrases = _with(opened, words, at, at + 1, _CUE)
    cues = [isinstance(one, CuePhrase) for one in phrases]
    told = any(isinstance(one, OutcomePhrase) for one in phrases)
    how = any(isinstance(one, ModePhrase | LevelPhrase) for one in phrases)
    one_call = cues[:1] == [True] and sum(cues) == 1
    return StrangeWord(name, "cue") if one_call and told and how else None


def _with(
    opened: Grammar, words: list[str], first: int, last: int, stand_in: str
) -> tuple[Phrase, ...]:
    """The phrases with another word in that place; none where that is no note."""
    note = note_of(opened, " ".join((*words[:first], stand_in, *words[last:])))
    return () if note is None else opened.interpret(note) or ()
