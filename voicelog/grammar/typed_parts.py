"""Which parts of a typed line are no note, so that they can be named to who typed it.

A line is told as "not understood" as a whole; what stopped it is often one word of it.
"""

from __future__ import annotations

from itertools import groupby
from operator import itemgetter
from typing import NamedTuple

from voicelog.grammar.abbreviations import typed_pieces
from voicelog.grammar.grammar import Grammar, normalize

__all__ = ["LinePart", "parted_line"]

_MOST_PIECES = 60
"""Pieces of a line that are looked at; a longer one is named as a whole."""


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


def _keep(ways: dict[int, _Parting], state: int, way: _Parting) -> None:
    if state not in ways or _cost(way) < _cost(ways[state]):
        ways[state] = way


def _cost(way: _Parting) -> tuple[int, int]:
    return way.left, way.runs
