"""A sequence that is never changed, and of which a longer one is made at little cost.

A live session has thousands of marks, and each note adds a few: copied into a tuple at each note,
they would make a note in the fourth hour dearer than one in the fifth minute. Here what is settled
is shared by all that grew from it, and only the open tail is each one's own. Read, it is as good
as a tuple, and equal to one with the same items.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import chain, islice
from typing import Any, TypeVar, get_args, overload

from pydantic import GetCoreSchemaHandler
from pydantic_core import CoreSchema, core_schema

__all__ = ["Grown", "begins_with", "same_until"]

Item = TypeVar("Item")

LONGEST_TAIL, SHORTEST_TAIL = 24, 8
"""Items of the open tail from which on its oldest are settled, and how many stay open then: what
the next note takes back lies among them, as a rule."""


class Grown(Sequence[Item]):
    """The first `_many` of the shared list `_settled`, and the `_tail` after them.

    A shared list only ever grows, so what it held for one holds for good. `items` may be anything
    that can be gone through.
    """

    __slots__ = ("_many", "_settled", "_tail")

    def __init__(self, items: Iterable[Item] = ()) -> None:
        self._settled = list(items)
        self._many = len(self._settled)
        self._tail: tuple[Item, ...] = ()

    def until(self, count: int) -> Grown[Item]:
        """The first `count` items."""
        if count >= len(self):
            return self
        many = min(count, self._many)
        return _made(self._settled, many, self._tail[: count - many])

    def then(self, count: int, items: Iterable[Item]) -> Grown[Item]:
        """The first `count` items, and those of `items` after them."""
        first = self.until(count)
        tail = (*first._tail, *items)
        if len(tail) == len(first._tail):
            return first
        if len(tail) <= LONGEST_TAIL:
            return _made(first._settled, first._many, tail)
        settled = first._settled
        if not settled or len(settled) != first._many:  # it grew otherwise meanwhile
            settled = settled[: first._many]
        settled += tail[:-SHORTEST_TAIL]
        return _made(settled, len(settled), tail[-SHORTEST_TAIL:])

    def added(self, *items: Item) -> Grown[Item]:
        """All of it, and these after it."""
        tail = (*self._tail, *items)
        if items and len(tail) <= LONGEST_TAIL:
            return _made(self._settled, self._many, tail)
        return self.then(len(self), items)

    def __len__(self) -> int:
        return self._many + len(self._tail)

    def __iter__(self) -> Iterator[Item]:
        return chain(islice(self._settled, self._many), self._tail)

    def __reversed__(self) -> Iterator[Item]:
        settled = map(self._settled.__getitem__, range(self._many - 1, -1, -1))
        return chain(reversed(self._tail), settled)

    def __contains__(self, item: object) -> bool:
        settled: Iterator[object] = islice(self._settled, self._many)
        return item in self._tail or item in settled

    @overload
    def __getitem__(self, at: int) -> Item: ...

    @overload
    def __getitem__(self, at: slice) -> tuple[Item, ...]: ...

    def __getitem__(self, at: int | slice) -> Item | tuple[Item, ...]:
        if isinstance(at, slice):
            return self._part(at)
        place = at + len(self) if at < 0 else at
        if not 0 <= place < len(self):
            raise IndexError(at)
        many = self._many
        return self._settled[place] if place < many else self._tail[place - many]

    def _part(self, at: slice) -> tuple[Item, ...]:
        start, stop, step = at.indices(len(self))
        if step != 1:
            return tuple(self)[at]
        many = self._many
        tail = self._tail[max(0, start - many) : max(0, stop - many)]
        return (*self._settled[start : min(stop, many)], *tail) if start < many else tail

    def __add__(self, other: Iterable[Any]) -> tuple[Any, ...]:
        return (*self, *other)

    def __eq__(self, other: object) -> bool:
        if isinstance(other, Grown):
            return len(self) == len(other) and begins_with(self, other)
        return tuple(self) == other if isinstance(other, tuple) else NotImplemented

    def __hash__(self) -> int:
        return hash(tuple(self))

    def __repr__(self) -> str:
        return repr(tuple(self))

    def __deepcopy__(self, memo: object) -> Grown[Item]:
        return self

    @classmethod
    def __get_pydantic_core_schema__(cls, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        """In a model it is read from and written as a list of its items."""
        of = get_args(source)[:1] or (Any,)
        items = core_schema.no_info_before_validator_function(
            _as_tuple,
            handler.generate_schema(tuple[of[0], ...]),  # type: ignore[valid-type]
        )
        return core_schema.no_info_after_validator_function(
            cls, items, serialization=core_schema.plain_serializer_function_ser_schema(list)
        )


def _as_tuple(given: object) -> object:
    return tuple(given) if isinstance(given, Grown) else given


def _made(settled: list[Any], many: int, tail: tuple[Any, ...]) -> Grown[Any]:
    made: Grown[Any] = Grown.__new__(Grown)
    made._settled, made._many, made._tail = settled, many, tail
    return made


def _shared(one: Sequence[object], other: Sequence[object]) -> int:
    """How many items at the beginning of both are known to be the same without a look."""
    if one is other:
        return len(one)
    if isinstance(one, Grown) and isinstance(other, Grown) and one._settled is other._settled:
        return min(one._many, other._many)
    return 0


def begins_with(now: Sequence[object], then: Sequence[object]) -> bool:
    """Whether the sequence `now` begins with all items of `then`."""
    many = len(then)
    if len(now) < many:
        return False
    known = _shared(now, then)
    return now[known:many] == then[known:]


def same_until(now: Sequence[object], then: Sequence[object]) -> int:
    """How many items the sequences `now` and `then` have in common at their beginning."""
    most = min(len(now), len(then))
    same = _shared(now, then)
    if now[same:most] == then[same:most]:
        return most
    differ = most
    while differ - same > 1:
        middle = (same + differ) // 2
        if now[same:middle] == then[same:middle]:
            same = middle
        else:
            differ = middle
    return same
