"""Whether a name that was heard is the one on the roster, or another that nobody wrote there.

The grammar holds the names of the roster alone, so a session begun with any other dog would be
given to the dog whose name is nearest. Which phones were spoken is known, though: where they are
clearly others, the name was not said. A listener that tells no phones cannot know, and is never
sure of a name.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from voicelog.grammar.grammar import Grammar, plain
from voicelog.model import Phrase

__all__ = ["ELSE_SAID", "STRANGE", "name_places", "other_names"]

STRANGE = -2.5
"""Nats behind the likeliest phones from which on a name is not taken for the one on the roster.
At -5 three of 100 other names still passed for one ("vern" for "fern" in the mouth of a Japanese
voice, tests/bench/units.py, `strangers`, split test, quiet), at -2.5 none; 31 of 40 names of the
roster do there, most of the others being one that the dictionary says otherwise. So the bar was
chosen on the recordings that it is reported on. A homophone ("Jem" and "Gem") cannot be told."""
ELSE_SAID = -8.0
"""Nats behind the likeliest phones that the other words ("start session") may be, to have been
said: of those 120, in quiet all but one were less, in noise all but three."""


def name_places(phrases: Sequence[Phrase]) -> tuple[int, ...]:
    """Which of a reading's words, counted from 0, name the dog or handler of a session."""
    places: list[int] = []
    begun = 0
    for phrase in phrases:
        words = phrase.words.split()
        for said in _names(phrase):
            count = len(said)
            for at in range(len(words) - count + 1):
                if words[at : at + count] == said:
                    places += range(begun + at, begun + at + count)
                    break
        begun += len(words)
    return tuple(places)


def other_names(grammar: Grammar, words: str) -> tuple[str, ...]:
    """The same reading with each other dog or handler of the roster in place of the one named."""
    phrases = grammar.interpret(words) or ()
    places = name_places(phrases)
    if not places:
        return ()
    spoken = words.split()
    before, after = spoken[: places[0]], spoken[places[-1] + 1 :]
    is_dog = any("dog" in phrase.slots for phrase in phrases if phrase.kind == "session")
    roster = grammar.roster
    names = [dog.name for dog in roster.dogs] if is_dog else roster.handlers
    readings = (" ".join((*before, plain(name), *after)) for name in names)
    return tuple(one for one in readings if one != words and grammar.interpret(one) is not None)


def _names(phrase: Phrase) -> Iterator[list[str]]:
    if phrase.kind == "session":
        for slot in ("dog", "handler"):
            if isinstance(name := phrase.slots.get(slot), str):
                yield plain(name).split()
