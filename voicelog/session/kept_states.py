"""What is settled is kept, and only the open tail is walked again.

A walk over a sequence that grows (entries, marks) has a state after each item. `KeptStates` hands
out the newest state whose items are still the same, so that the walk goes on from there; where an
old item has changed (a strike, a late verdict, a correction), that is an older one, or the
beginning. There is no second logic: the walk is the same, wherever it begins.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

from voicelog.model.grown import begins_with

__all__ = ["KeptStates", "Sequences"]

EVERY = 8
"""Items from one kept state to the next: that many are walked again at most for the newest."""

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
    """

    def __init__(self, begin: Callable[[], State], copied: Callable[[State], State]) -> None:
        self._begin, self._copied = begin, copied
        self._kept: list[_Kept[State]] = []
        self._newest: _Kept[State] | None = None

    def resume(self, *of: Sequence[object]) -> State:
        """The newest state whose sequences begin those in `of`, for the caller to go on with and
        to give back to `keep`; the first where there is none."""
        newest, self._newest = self._newest, None
        if newest is not None and newest.holds(of):
            self._add(newest)
            return newest.state
        while self._kept and not self._kept[-1].holds(of):
            self._kept.pop()
        return self._copied(self._kept[-1].state) if self._kept else self._begin()

    def keep(self, state: State, *of: Sequence[object]) -> None:
        """The walk has come to the end of the sequences in `of`; `state` is what `resume` gave,
        and is not to be changed until it is handed out again."""
        self._newest = _Kept(state, of)

    def _add(self, newest: _Kept[State]) -> None:
        """Keep a copy, where the last is old enough; of older ones fewer stay."""
        place = len(newest.of[0])
        if place - (len(self._kept[-1].of[0]) if self._kept else 0) < EVERY:
            return
        self._kept.append(_Kept(self._copied(newest.state), newest.of))
        places = [len(one.of[0]) for one in self._kept]
        for at in range(len(places) - 3, 0, -1):
            if places[at + 1] - places[at - 1] <= 2 * (place - places[at + 1]):
                del self._kept[at]
                return
