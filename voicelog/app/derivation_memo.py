"""What a derivation may take over from the one before, so that a correction costs little.

A long session has thousands of entries, and a correction is about one of them. What rests on that
one alone (an entry, its line in the contract, the matters of a state before any correction) is
made once and kept as long as what it rests on is the same. It is a cache: with it and without it,
what is derived is equal.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cached_property

from voicelog.model import Entry, EntryOutput, Event, SessionMatter
from voicelog.safety.history import PastSession
from voicelog.session.entries import EntryMemo

__all__ = ["DerivationMemo"]

MOST_STATES = 12
"""Earlier states of a recording whose matters are kept."""

Pasts = dict[str, Sequence[PastSession]]


class DerivationMemo:
    """What was derived of one recording under one grammar, to be taken over where it still holds.

    `entries` is for `fold`.
    """

    @cached_property
    def earlier(self) -> DerivationMemo:
        """The same for the states before people's corrections."""
        return DerivationMemo()

    def __init__(self) -> None:
        self.entries: EntryMemo = {}
        self._lines: dict[str, tuple[Entry, str | None, bool, EntryOutput]] = {}
        self._matters: dict[
            tuple[str, ...], tuple[Sequence[Event], Pasts, tuple[SessionMatter, ...]]
        ] = {}

    def line(
        self,
        entry: Entry,
        session: str | None,
        placed: bool,
        made: Callable[[], EntryOutput],
    ) -> EntryOutput:
        """An entry's line in the contract, in the session of that id, `placed` or not; `made` makes
        it where none is known."""
        known = self._lines.get(entry.id)
        if known is None or known[0] is not entry or known[1:3] != (session, placed):
            known = self._lines[entry.id] = (entry, session, placed, made())
        return known[3]

    def matters(self, events: Sequence[Event], past: Pasts) -> tuple[SessionMatter, ...] | None:
        """The matters of these events, None where they are not known. `past` are the earlier
        sessions of each dog as they are now."""
        kept = self._matters.get(tuple(event.id for event in events))
        if kept is None or kept[0] != events:
            return None
        return kept[2] if all(past.get(dog) == then for dog, then in kept[1].items()) else None

    def keep_matters(
        self, events: Sequence[Event], past: Pasts, matters: tuple[SessionMatter, ...]
    ) -> None:
        """The matters of these events are those, with such earlier sessions."""
        self._matters[tuple(event.id for event in events)] = (events, past, matters)
        while len(self._matters) > MOST_STATES:
            del self._matters[next(iter(self._matters))]
