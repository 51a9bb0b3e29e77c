"""Which parts of a typed line are no note, so that they can be named to who typed it.

A line is told as "not understood" as a whole; what stopped it is often one word of it.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from itertools import groupby
from operator import itemgetter
from typing import NamedTuple

from voicelog.grammar.abbreviations import typed_pieces
from voicelog.grammar.grammar import Grammar, normalize

__all__ = ["LinePart", "ends_of_notes", "parted_line"]

_MOST_PIECES = 60
"""Pieces of a line that are looked at; a longer one is named as a whole."""
_LONGEST_NUMBER = 4
"""Words of a number, at most: "one hundred twenty five"."""


class LinePart(NamedTuple):
    """A run of pieces of a typed line: as they were typed, and whether they are of the note."""

    words: str
    kept: bool


class _Parting(NamedTuple):
    left: int
    """Pieces left out so far."""
    runs: int
    taken: tuple[bool, ...]


def parted_line(grammar: Grammar, text: str) -> tuple[LinePart, ...]:
    """A text as the longest note of its own pieces, each with any of the meanings that it may have
    by `grammar`, and what is not of it: as few pieces, in as few runs, as can be."""
    pieces = typed_pieces(grammar.abbreviations, grammar.words, normalize(text))
    if len(pieces) > _MOST_PIECES:
        return (LinePart(normalize(text), kept=False),)
    graph = grammar.graph
    ways: dict[int, _Parting] = {graph.start: _Parting(0, 0, ())}
    for _, meanings in pieces:
        onward: dict[int, _Parting] = {}
        for state, way in ways.items():
            if state == graph.start or graph.stops(state):
                run = 0 if way.taken and not way.taken[-1] else 1
                _keep(onward, state, _Parting(way.left + 1, way.runs + run, (*way.taken, False)))
            for meant in meanings:
                reached = {state}
                for word in grammar.verbalize(meant).split():
                    steps = (graph.onward(one).get(word, ()) for one in reached)
                    reached = {step.state for found in steps for step in found}
                for one in reached:
                    _keep(onward, one, way._replace(taken=(*way.taken, True)))
        ways = onward
    ended = [way for state, way in ways.items() if state == graph.start or graph.stops(state)]
    best = min(ended, key=_cost)
    told = zip(best.taken, (one.piece for one in pieces), strict=True)
    return tuple(
        LinePart(" ".join(piece for _, piece in run), kept)
        for kept, run in groupby(told, key=itemgetter(0))
    )


def ends_of_notes(grammar: Grammar, text: str) -> tuple[str, ...]:
    """The phrases of the grammar that end as a text does, of which only words are lacking and no
    number: "fit check one finger" of "1 finger"; the shortest first."""
    typed = tuple(grammar.verbalize(text).split())
    found: set[str] = set()
    for form in grammar.forms:
        if not typed or (form.parts[-1] != typed[-1] and isinstance(form.parts[-1], str)):
            continue
        said = [
            {part} if isinstance(part, str) else set(grammar.numbers(part.rule).values())
            for part in form.parts
        ]
        for first in range(1, len(said)):
            before = [part for part in form.parts[:first] if isinstance(part, str)]
            if len(before) == first and _say(said[first:], typed):
                found.add(" ".join((*before, *typed)))
    return tuple(sorted(found, key=lambda one: (len(one.split()), one)))


def _say(parts: Sequence[Collection[str]], words: tuple[str, ...]) -> bool:
    """Whether the words are one choice of each part, in order."""
    if not parts or not words:
        return not parts and not words
    lengths = range(1, min(_LONGEST_NUMBER, len(words)) + 1)
    return any(
        " ".join(words[:length]) in parts[0] and _say(parts[1:], words[length:])
        for length in lengths
    )


def _keep(ways: dict[int, _Parting], state: int, way: _Parting) -> None:
    if state not in ways or _cost(way) < _cost(ways[state]):
        ways[state] = way


def _cost(way: _Parting) -> tuple[int, int]:
    return way.left, way.runs
