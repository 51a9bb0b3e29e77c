"""The notes that lie in what was typed: its own words in their order, and nothing put in.

Words that the log does not have are left out, and slips of the hand mended ("yelpd"). A likely
note is found elsewhere too (`fuzzy_match`), but it may hold a press or a sign that nobody typed;
one that lies in the text holds only what stands there.
"""

from __future__ import annotations

from collections.abc import Hashable
from itertools import zip_longest
from typing import NamedTuple, TypeVar

from voicelog.grammar.grammar import Grammar
from voicelog.grammar.harm_words import harm_told
from voicelog.grammar.typed_names import names_are_typed
from voicelog.grammar.typed_slips import is_english, is_slip, number_words

__all__ = ["FILLING", "TURNING", "NoteWithin", "may_be", "may_be_left_out", "notes_within"]

_LEFT_OUT = 1.0
_MENDED = 0.5
_MOST_COST = 2.0
"""What a note in a text may cost; nor are more words left out than are kept."""
_MOST_WAYS = 200
"""Ways through the grammar that are followed at once, the cheapest."""
_FILL = "a an and at it me my of the to with"
_TURN = (
    "almost barely bit can't cannot could couldn't did didn't do does doesn't don't half "
    "hardly had hadn't has hasn't if is isn't kind least less little maybe might nearly "
    "neither never no none nor not only partly perhaps possibly probably rather scarcely "
    "seldom should shouldn't slightly somewhat sort unless until was wasn't were weren't when "
    "without won't would wouldn't"
)
FILLING = frozenset(_FILL.split())
"""Words that the grammar has and that say nothing alone: they may be left out."""
TURNING = frozenset(_TURN.split())
"""Words that may turn the meaning of what stands beside them, or its degree: they are never left
out."""

_Ways = dict[tuple[int, tuple[str, ...], int], float]
_Key = TypeVar("_Key", bound=Hashable)


class NoteWithin(NamedTuple):
    """A note that lies in a text, and what it cost: 1 for each word left out, 0.5 for each slip
    that was mended."""

    words: str
    cost: float


def notes_within(grammar: Grammar, text: str, *, known_too: bool = False) -> tuple[NoteWithin, ...]:
    """The notes in a text, the nearest to it first; none where it has none.

    Args:
        grammar: what a note is.
        text: as it was typed, with its short forms written out.
        known_too: whether words that the grammar has may be left out as well.
    """
    known = grammar.words
    ways: _Ways = {(grammar.graph.start, (), 0): 0.0}
    typed = grammar.verbalize(text).split()
    for word, after in zip_longest(typed, typed[1:], fillvalue=""):
        strange = word not in known
        may_go = strange or known_too or word in FILLING
        may_go = may_go and may_be_left_out(grammar, word, after)
        onward: _Ways = {}
        for (state, words, left_out), cost in ways.items():
            if may_go:
                _keep(onward, (state, words, left_out + 1), cost + _LEFT_OUT)
            steps_of = grammar.graph.onward(state)
            slips = steps_of if strange else ()
            meant = [word, *(one for one in slips if may_be(grammar, word, one))]
            for one in meant:
                for step in steps_of.get(one, ()):
                    more = 0.0 if one == word else _MENDED
                    _keep(onward, (step.state, (*words, one), left_out), cost + more)
        ways = dict(sorted(onward.items(), key=lambda item: item[1])[:_MOST_WAYS])
    found: dict[str, float] = {}
    for (state, words, left_out), cost in ways.items():
        if len(words) >= max(1, left_out) and grammar.graph.stops(state):
            _keep(found, " ".join(words), cost)
    ranked = sorted(found.items(), key=lambda item: item[1])
    return tuple(
        NoteWithin(words, cost) for words, cost in ranked if names_are_typed(grammar, text, words)
    )


def may_be_left_out(grammar: Grammar, word: str, after: str) -> bool:
    """Whether a word may go and the rest still says what was typed. A number may not, nor one that
    turns the meaning of others or may tell of harm, nor what stands before a cue (`after`): it may
    be another dog."""
    if word in TURNING or any(letter.isdigit() for letter in word):
        return False
    if word in number_words(grammar) or (word not in FILLING and harm_told(word) is not None):
        return False
    cues = {cue.casefold() for dog in grammar.roster.dogs for cue in dog.cues}
    return word in grammar.words or after not in cues


def _keep(ways: dict[_Key, float], key: _Key, cost: float) -> None:
    if cost <= _MOST_COST:
        ways[key] = min(cost, ways.get(key, cost))


def may_be(grammar: Grammar, typed: str, meant: str) -> bool:
    """Whether a word that the grammar does not have may be `meant`, one that it has: a slip of it,
    and no number by its sound."""
    return is_slip(typed, meant) and not (is_english(typed) and meant in number_words(grammar))
