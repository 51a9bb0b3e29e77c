"""Names and cue words that a listener could mistake for something else that may be said.

A dog called Bird, or a cue "hup" beside "up", makes wrong records however well one listens;
better to hear of it when the name is entered.
"""

from __future__ import annotations

from collections.abc import Iterator

from voicelog.grammar.grammar import Grammar, plain
from voicelog.grammar.pronounce import UnspeakableError, sounds_alike
from voicelog.model import Dog, Roster

__all__ = ["ALIKE", "clashes"]

ALIKE = 0.75
"""Likeness (0 to 1) from which two words are pointed out; our own choice."""


def clashes(dog: Dog, roster: Roster, grammar: Grammar | None = None) -> tuple[str, ...]:
    """A sentence for each name or cue of `dog` that sounds like something else said.

    `roster` are the others; the dog's own older profile in it does not count. Raises
    UnspeakableError for a name that cannot be spoken.
    """
    others = Roster(dogs=tuple(d for d in roster.dogs if d.name.casefold() != dog.name.casefold()))
    words = set((grammar or Grammar.load()).vocabulary)
    names = {plain(other.name) for other in others.dogs}
    spoken = [("name", dog.name)] + [("cue", cue) for cue in dog.cues if cue != "here"]
    return tuple(
        f"The {what} '{said}' sounds like '{other}', which may be said too; "
        "choose another, or say it with care and look at it in the evening."
        for what, said in spoken
        for other in _like(said, words | names if what == "name" else words)
    )


def _like(said: str, others: set[str]) -> Iterator[str]:
    word = plain(said)
    if not word:
        raise UnspeakableError(said)
    for other in sorted(others):
        if sounds_alike(word, other) >= ALIKE:
            yield other
