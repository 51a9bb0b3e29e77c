"""Names and cue words that a listener could mistake for something else that may be said.

A dog called Bird, or a cue "hup" beside "up", makes wrong records however well one listens;
better to hear of it when the name is entered.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache

from voicelog.grammar.grammar import Grammar, normalize
from voicelog.grammar.pronunciation import NoPronunciationError, sound_similarity
from voicelog.model import Dog, Roster

__all__ = ["ALIKE", "dog_name_conflicts", "handler_name_conflicts"]

ALIKE = 0.75
"""Likeness (0 to 1) from which two words are pointed out; our own choice."""


def dog_name_conflicts(dog: Dog, roster: Roster, grammar: Grammar | None = None) -> tuple[str, ...]:
    """A sentence for each name or cue of `dog` that sounds like something else said.

    `roster` are the others; the dog's own older profile in it does not count. Raises
    NoPronunciationError for a name that cannot be spoken.
    """
    others = Roster(dogs=tuple(d for d in roster.dogs if d.name.casefold() != dog.name.casefold()))
    words = set((grammar or Grammar.load()).vocabulary)
    names = {normalize(other.name) for other in others.dogs}
    spoken = [("name", dog.name)] + [("cue", cue) for cue in dog.cues if cue != "here"]
    return tuple(
        _sentence(what, said, other)
        for what, said in spoken
        for other in _like(said, words | names if what == "name" else words)
    )


def handler_name_conflicts(
    name: str, roster: Roster, grammar: Grammar | None = None
) -> tuple[str, ...]:
    """The same for a handler's name, against the grammar, dogs and other handlers."""
    others = {normalize(one) for one in roster.handlers if one.casefold() != name.casefold()}
    others |= {normalize(dog.name) for dog in roster.dogs}
    others |= set((grammar or Grammar.load()).vocabulary)
    return tuple(_sentence("name", name, other) for other in _like(name, others))


def _sentence(what: str, said: str, other: str) -> str:
    return (
        f"The {what} '{said}' sounds like '{other}', which may be said too; "
        "choose another, or say it with care and check it in the evening."
    )


def _like(said: str, others: set[str]) -> Iterator[str]:
    word = normalize(said)
    if not word:
        raise NoPronunciationError(said)
    for other in sorted(others):
        if likeness(word, other) >= ALIKE:
            yield other


@lru_cache(maxsize=8192)  # the page asks it of the same words at each change of a name
def likeness(said: str, other: str) -> float:
    """How alike (0 to 1) they sound; 0 where the other, kept earlier, cannot be pronounced.

    Raises NoPronunciationError where `said` cannot be.
    """
    try:
        return sound_similarity(said, other)
    except NoPronunciationError as error:
        if error.word in said.split():
            raise
        return 0.0
