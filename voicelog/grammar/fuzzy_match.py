"""Mend near misses: the notes of the grammar that lie closest to words outside it.

A reading that is almost a note ("level free, game") is worth offering to a person and
never worth taking in silence: whoever uses a repair marks it doubtful. A name is not mended:
"fern" is no way to write Wren. The way through the
grammar with the least cost is found word by word; a word costs what it differs in sound or
spelling, a word too many or too few a fixed price.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from typing import NamedTuple

from rapidfuzz.distance import OSA

from voicelog.grammar.grammar import Grammar
from voicelog.grammar.pronunciation import NoPronunciationError, sound_similarity
from voicelog.grammar.typed_names import names_are_typed

__all__ = ["FuzzyMatch", "fuzzy_matches"]

INSERTION_COST = 0.6
DELETION_COST = 0.6
MAX_WORD_COST = 0.5
"""A word that differs by more is another word, not a near miss."""
PER_WORD = 0.25
"""What a whole note may cost for each word heard, up to MOST."""
MOST = 1.0


class FuzzyMatch(NamedTuple):
    """A note of the grammar and how far it is from the words heard (0: sounds the same)."""

    words: str
    cost: float


class _Way(NamedTuple):
    cost: float
    words: tuple[str, ...]


Difference = Callable[[str, str], float]


@lru_cache(maxsize=100_000)
def difference(heard: str, meant: str) -> float:
    """How far two words are apart, 0 (they sound the same) to 1: by sound or by spelling."""
    if heard == meant:
        return 0.0
    spelling = float(OSA.normalized_distance(heard, meant))
    try:
        return min(1.0 - sound_similarity(heard, meant), spelling)
    except NoPronunciationError:
        return spelling


def fuzzy_matches(grammar: Grammar, text: str, *, limit: int = 3) -> tuple[FuzzyMatch, ...]:
    """The nearest notes to `text`, nearest first; none when nothing lies near.

    A text that is a note already is its own repair, at no cost.
    """
    heard = grammar.verbalize(text).split()
    if grammar.interpret(" ".join(heard)) is not None:
        return (FuzzyMatch(" ".join(heard), 0.0),)
    most = min(MOST, PER_WORD * len(heard))
    graph = grammar.graph
    ways: dict[int, _Way] = {graph.start: _Way(0.0, ())}
    for word in [*heard, None]:
        ways = _with_missing(grammar, ways, most)
        if word is None:
            break
        onward: dict[int, _Way] = {}
        for state, way in ways.items():
            _keep(onward, state, _Way(way.cost + INSERTION_COST, way.words), most)
            for meant, steps in graph.onward(state).items():
                cost = difference(word, meant)
                if cost <= MAX_WORD_COST:
                    for step in steps:
                        grown = _Way(way.cost + cost, (*way.words, meant))
                        _keep(onward, step.state, grown, most)
        ways = onward
    found: dict[str, float] = {}
    for state, way in ways.items():
        if way.words and graph.stops(state):
            words = " ".join(way.words)
            found[words] = min(found.get(words, MOST), way.cost)
    known = {w: c for w, c in found.items() if names_are_typed(grammar, text, w)}
    ranked = sorted(known.items(), key=lambda item: (item[1], item[0]))
    return tuple(FuzzyMatch(words, round(cost, 3)) for words, cost in ranked[:limit])


def _keep(ways: dict[int, _Way], state: int, way: _Way, most: float) -> None:
    if way.cost <= most and (state not in ways or way.cost < ways[state].cost):
        ways[state] = way


def _with_missing(grammar: Grammar, ways: dict[int, _Way], most: float) -> dict[int, _Way]:
    """The same ways, and those on which one word of the grammar was not heard."""
    grown = dict(ways)
    for state, way in ways.items():
        if way.cost + DELETION_COST > most:
            continue
        for meant, steps in grammar.graph.onward(state).items():
            for step in steps:
                missed = _Way(way.cost + DELETION_COST, (*way.words, meant))
                _keep(grown, step.state, missed, most)
    return grown
