"""What a derivation may take over from the one before, so that a correction costs little.

A long session has thousands of entries, and a correction is about one of them. What lies before it
is not walked again (`DerivationWalk`), and what rests on one entry alone (the entry, its line in
the contract, the matters of a state before any correction) is made once and kept as long as what it
rests on is the same. It is a cache: with it and without it, what is derived is equal.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence

from voicelog.app.derivation_walk import EVEN, DerivationWalk, PastSessionLookup
from voicelog.grammar.grammar import Grammar
from voicelog.model import Entry, EntryOutput, Event, SessionMatter
from voicelog.safety.history import PastSession
from voicelog.session.entries import EntriesWalk, EntryMemo

__all__ = ["DerivationMemo"]

MOST_STATES = 12
"""Earlier states of a recording whose matters are kept."""

Pasts = dict[str, Sequence[PastSession]]


class DerivationMemo:
    """What was derived of one recording under one grammar, to be taken over where it still holds.

    One thread at a time may derive with it; `folded` may be asked beside that.
    """

    def __init__(self) -> None:
        self._entries: EntryMemo = {}
        self._walk: DerivationWalk | None = None
        self._earlier: dict[int, DerivationMemo] = {}
        self._folding = threading.Lock()
        self._folded: EntriesWalk | None = None
        self._lines: dict[str, tuple[Entry, str | None, bool, EntryOutput]] = {}
        self._matters: list[tuple[tuple[Event, ...], Pasts, tuple[SessionMatter, ...]]] = []

    def walk(self, grammar: Grammar, past: PastSessionLookup) -> DerivationWalk:
        """The walk to derive with, as far as it has come; `past` as `DerivationWalk` has it."""
        if self._walk is None:
            self._walk = DerivationWalk(grammar, past, memo=self._entries, even=EVEN)
        self._walk.ask_anew(past)
        return self._walk

    def earlier(self, place: int) -> DerivationMemo:
        """The same for the state in that place of those before people's corrections."""
        return self._earlier.setdefault(place, DerivationMemo())

    def folded(self, events: Sequence[Event], grammar: Grammar) -> Sequence[Entry]:
        """The entries of these events, as `fold` has them."""
        with self._folding:
            if self._folded is None:
                self._folded = EntriesWalk(grammar.interpret, self._entries)
            return self._folded.entries(events)

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

    def matters(self, events: tuple[Event, ...], past: Pasts) -> tuple[SessionMatter, ...] | None:
        """The matters of these events, None where they are not known. `past` are the earlier
        sessions of each dog as they are now."""
        for kept, pasts, matters in reversed(self._matters):
            if kept == events and all(past.get(dog) == then for dog, then in pasts.items()):
                return matters
        return None

    def keep_matters(
        self, events: tuple[Event, ...], past: Pasts, matters: tuple[SessionMatter, ...]
    ) -> None:
        """The matters of these events are those, with such earlier sessions."""
        self._matters = [*self._matters[1 - MOST_STATES :], (events, past, matters)]
