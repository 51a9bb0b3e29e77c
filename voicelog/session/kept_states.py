"""What is settled is kept, and only the open tail is walked again.

A walk over a sequence that grows (entries, marks) has a state after each item. `KeptStates` hands
out the newest state whose items are still the same, so that the walk goes on from there; where an
old item has changed (a strike, a late verdict, a correction), that is an older one, or the
beginning. There is no second logic: the walk is the same, wherever it begins.

Where one item in the middle has changed, what follows it has not. A walk that can tell that it has
come to stand where it stood before may take over what it came to then (`later`, `take_over`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import takewhile
from typing import Generic, TypeVar

from voicelog.model.grown import begins_with

__all__ = ["KeptStates", "Sequences"]

EVERY = 8
"""Items from one kept state to the next: that many are walked again at most for the newest."""
MOST_EVEN = 48
"""States of an even walk that are kept; where there are more, every second one goes."""

State = TypeVar("State")
Sequences = tuple[Sequence[object], ...]
"""What a walk goes over; each is a tuple or a `Grown`."""


@dataclass(frozen=True, slots=True)
class _Kept(Generic[State]):
    """A state, and the sequences whose items brought it about."""

    state: State
    of: Sequences

    def holds(self, of: Sequences) -> bool:
        """Whether those sequences begin with all items of these."""
        return len(of) == len(self.of) and all(map(begins_with, of, self.of))


class KeptStates(Generic[State]):
    """The states of one walk. `begin` makes the first, `copied` one that may change beside it.

    The first sequence of those that a state is of says how far the walk has come. Items are
    compared by identity first, so one that is the same should be the same object.

    Of what grows at its end (a live session), states lie the closer the nearer they are to it. With
    `even`, the number of items from one to the next, they are spread over all of it: there anything
    may be corrected, early or late.
    """

    def __init__(
        self,
        begin: Callable[[], State],
        copied: Callable[[State], State],
        *,
        even: int | None = None,
    ) -> None:
        self._begin, self._copied = begin, copied
        self._even = even
        self._kept: list[_Kept[State]] = []
        self._newest: _Kept[State] | None = None
        self._gone: tuple[_Kept[State], ...] = ()

    def resume(self, *of: Sequence[object]) -> State:
        """The newest state whose sequences begin those in `of`, for the caller to go on with and
        to give back to `keep`; the first where there is none."""
        newest, self._newest = self._newest, None
        self._gone = ()
        if newest is not None and newest.holds(of):
            self._add(newest)
            return newest.state
        gone = [] if newest is None else [newest]
        while self._kept and not self._kept[-1].holds(of):
            gone.append(self._kept.pop())
        if newest is not None and self._even is not None:
            self._gone = tuple(reversed(gone))
        return self._copied(self._kept[-1].state) if self._kept else self._begin()

    def keep(self, state: State, *of: Sequence[object]) -> None:
        """The walk has come to the end of the sequences in `of`; `state` is what `resume` gave,
        and is not to be changed until it is handed out again."""
        self._newest = _Kept(state, of)

    def later(self, items: Sequence[object]) -> tuple[tuple[int, State], ...]:
        """Of an even walk over one sequence, the states that held until the last `resume`, where
        all items that came after them end `items` too: each with its place there, in order, the
        last with the end. They are no longer kept."""
        gone, self._gone = self._gone, ()
        if not gone:
            return ()
        before = gone[-1].of[0]
        pairs = zip(reversed(before), reversed(items), strict=False)
        same = sum(1 for _ in takewhile(_is_same, pairs))
        longer, first = len(items) - len(before), len(before) - same
        places = [(len(one.of[0]), one.state) for one in gone]
        return tuple((place + longer, state) for place, state in places if place >= first)

    def take_over(self, states: Iterable[tuple[int, State]], items: Sequence[object]) -> None:
        """Keep these states too, each at its place in `items`, after all that are kept by now.
        Nothing else may change them."""
        self._kept += [_Kept(state, (items[:place],)) for place, state in states]
        self._thin_out()

    def is_due(self, place: int) -> bool:
        """Whether an even walk that has come to so many items is to keep its state on the way."""
        return self._even is not None and place - self._last_place >= self._even

    def keep_on_the_way(self, state: State, *of: Sequence[object]) -> None:
        """The walk goes on after the sequences in `of`, which is as far as `state` has come by now;
        a copy is kept, where one `is_due`."""
        if self.is_due(len(of[0])):
            self._add(_Kept(state, of))

    @property
    def _last_place(self) -> int:
        return len(self._kept[-1].of[0]) if self._kept else 0

    def _add(self, newest: _Kept[State]) -> None:
        """Keep a copy, where the last is old enough; of older ones fewer stay."""
        place = len(newest.of[0])
        if place - self._last_place < (self._even or EVERY):
            return
        self._kept.append(_Kept(self._copied(newest.state), newest.of))
        if self._even is not None:
            self._thin_out()
            return
        places = [len(one.of[0]) for one in self._kept]
        for at in range(len(places) - 3, 0, -1):
            if places[at + 1] - places[at - 1] <= 2 * (place - places[at + 1]):
                del self._kept[at]
                return

    def _thin_out(self) -> None:
        if self._even is not None and len(self._kept) > MOST_EVEN:
            self._even *= 2
            self._kept = self._kept[1::2]


def _is_same(pair: tuple[object, object]) -> bool:
    return pair[0] is pair[1]
