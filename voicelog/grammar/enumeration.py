"""List the sentences of a rule, or so many of them that each of its parts is in one.

How many sentences a rule has is a power of its size: a lead, three optional words in any order,
a noun and two extras make millions. So they are never all made; whoever needs to know whether
words are of a grammar, or which words say something, walks the automaton.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import chain, islice
from typing import TypeVar

__all__ = [
    "MAX_SAMPLE_PARTS",
    "MAX_TEMPLATES",
    "product_of_sentences",
    "take_sample",
    "vary_each_part",
]

Item = TypeVar("Item")
Part = TypeVar("Part")

MAX_TEMPLATES = 500
"""Ways to say one phrase that are listed; the richest phrase that ships has 36."""
MAX_SAMPLE_PARTS = 100_000
"""Words and tags, all together, of the ways that are listed for one phrase."""


def product_of_sentences(
    items: Sequence[Item], each: Callable[[Item], Iterator[tuple[Part, ...]]]
) -> Iterator[tuple[Part, ...]]:
    """Every sentence of each item with every one of the others, in their order; none is kept."""
    if not items:
        yield ()
        return
    chosen: list[tuple[Part, ...]] = []
    left = [each(items[0])]
    while left:
        sentence = next(left[-1], None)
        if sentence is None:
            left.pop()
            del chosen[-1:]
        elif len(left) < len(items):
            chosen.append(sentence)
            left.append(each(items[len(left)]))
        else:
            yield (*chain.from_iterable(chosen), *sentence)


def vary_each_part(
    items: Sequence[Item],
    firsts: Sequence[tuple[Part, ...]],
    each: Callable[[Item], Iterator[tuple[Part, ...]]],
) -> Iterator[tuple[Part, ...]]:
    """The first sentences of all, then every other of each in turn among the first of the rest."""
    yield tuple(chain.from_iterable(firsts))
    for place, item in enumerate(items):
        before = tuple(chain.from_iterable(firsts[:place]))
        after = tuple(chain.from_iterable(firsts[place + 1 :]))
        for other in islice(each(item), 1, None):
            yield (*before, *other, *after)


def take_sample(
    ways: Iterable[tuple[Part, ...]], most: int = MAX_SAMPLE_PARTS
) -> tuple[list[tuple[Part, ...]], bool]:
    """The first ways, of at most `most` parts together, and whether these are all."""
    found: list[tuple[Part, ...]] = []
    parts = 0
    for way in ways:
        parts += len(way)
        if len(found) == most or parts > MAX_SAMPLE_PARTS:
            return found, False
        found.append(way)
    return found, True
