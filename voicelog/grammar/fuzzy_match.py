"""Mend near misses: the notes of the grammar that lie closest to words outside it.

A text that is almost a note ("levle three, gamne") is worth offering to a person and
never worth taking in silence: whoever uses a repair marks it doubtful. What is mended was typed,
so it is mended by its letters: a word that the grammar has is meant as it stands, one that is a
slip of words that may stand there is one of those, one of English is no other unless that sounds
the same, and a number is put in for nothing but a slip of it. A name is not mended: "fern" is no
way to write Wren. No word is put in that was not typed. The way through the grammar with the least
cost is found word by word; a word costs what it differs in spelling, a word too many a fixed price.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import zip_longest
from typing import NamedTuple

from rapidfuzz.distance import OSA

from voicelog.grammar.grammar import Grammar
from voicelog.grammar.typed_names import names_are_typed
from voicelog.grammar.typed_slips import PLACES, is_english, number_words
from voicelog.grammar.within_text import may_be, may_be_left_out

__all__ = ["FuzzyMatch", "fuzzy_matches"]

INSERTION_COST = 0.6
MAX_WORD_COST = 0.5
"""A word that differs by more is another word, not a near miss."""
PER_WORD = 0.25
"""What a whole note may cost for each word typed, up to MOST."""
MOST = 1.0


_SLIP_FROM = 4
"""Letters of the shortest word that another is taken for with one letter off."""


class FuzzyMatch(NamedTuple):
    """A note of the grammar and how far it is from the words typed (0: the same)."""

    words: str
    cost: float


class _Way(NamedTuple):
    cost: float
    words: tuple[str, ...]


@lru_cache(maxsize=100_000)
def difference(typed: str, meant: str) -> float:
    """How far two words are apart by their letters, from 0 (the same) to 1."""
    return float(OSA.normalized_distance(typed, meant))


def fuzzy_matches(grammar: Grammar, text: str, *, limit: int = 3) -> tuple[FuzzyMatch, ...]:
    """The nearest notes to `text`, nearest first; none when nothing lies near.

    A text that is a note already is its own repair, at no cost.
    """
    typed = grammar.verbalize(text).split()
    if grammar.interpret(" ".join(typed)) is not None:
        return (FuzzyMatch(" ".join(typed), 0.0),)
    most = min(MOST, PER_WORD * len(typed))
    graph = grammar.graph
    numbers = number_words(grammar)
    ways: dict[int, _Way] = {graph.start: _Way(0.0, ())}
    for word, after in zip_longest(typed, typed[1:], fillvalue=""):
        onward: dict[int, _Way] = {}
        as_it_stands = word in grammar.words or any(map(str.isdigit, word))
        slips = {one for one in grammar.words if _one_letter_off(word, one)}
        may_go = may_be_left_out(grammar, word, after)
        for state, way in ways.items():
            if may_go:
                _keep(onward, state, _Way(way.cost + INSERTION_COST, way.words), most)
            here = graph.onward(state)
            if as_it_stands:
                meanings = {word}
            elif is_english(word):
                meanings = {one for one in here if may_be(grammar, word, one)}
            else:
                meanings = slips.intersection(here) or here.keys() - numbers
            for meant, steps in here.items():
                if meant not in meanings:
                    continue
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


def _one_letter_off(typed: str, meant: str) -> bool:
    longer = len(meant) >= _SLIP_FROM and typed not in PLACES
    return longer and OSA.distance(typed, meant, score_cutoff=1) <= 1


def _keep(ways: dict[int, _Way], state: int, way: _Way, most: float) -> None:
    if way.cost <= most and (state not in ways or way.cost < ways[state].cost):
        ways[state] = way
