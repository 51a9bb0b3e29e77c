"""From a meaning to words: walk the automaton only where its values agree with what is meant."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import NamedTuple

from voicelog.grammar.automaton import EpsilonFreeGraph, Operation, PhraseEnd, PhraseStart
from voicelog.grammar.jsgf import Tag
from voicelog.model import Phrase, PhraseKind, Slot
from voicelog.model.phrases import phrase_slots

__all__ = ["shortest_wording"]


class _PartialPhrase(NamedTuple):
    """A phrase partly spoken: its values so far, and the number that was begun."""

    slots: dict[str, Slot]
    number: int

    def after(
        self, ops: Iterable[Operation], kind: PhraseKind, meant: Mapping[str, Slot]
    ) -> _PartialPhrase | None:
        """What it is after these operations, or None where that cannot become a
        phrase of `kind` that carries what is `meant`."""
        slots, number = dict(self.slots), self.number
        for op in ops:
            match op:
                case PhraseStart(begun) if begun != kind:
                    return None
                case Tag(None, value):
                    number += int(value)
                case Tag(str(name), value):
                    if value in ("#", "-#"):
                        value, number = number if value == "#" else -number, 0
                    if meant.get(name) != value:
                        return None
                    slots[name] = value
        most = max((abs(v) for v in meant.values() if isinstance(v, int)), default=0)
        return _PartialPhrase(slots, number) if number <= most else None


def shortest_wording(graph: EpsilonFreeGraph, phrase: Phrase) -> str | None:
    """The fewest words that say exactly this phrase, or None when none do.

    Walked breadth first; a state is passed once with the same values, so the work grows with
    the automaton and the values of the one phrase.
    """
    kind, meant = phrase.kind, phrase_slots(phrase)
    ways = [(graph.start, _PartialPhrase({}, 0), "")]
    seen: set[tuple[int, frozenset[tuple[str, Slot]], int]] = set()
    while ways:
        onward: list[tuple[int, _PartialPhrase, str]] = []
        for state, partly, words in ways:
            for ops in graph.stops(state) if words else ():
                whole = partly.after(ops, kind, meant)
                if whole is not None and whole.slots == meant:
                    return words.strip()
            for word, steps in graph.onward(state).items():
                for step in steps:
                    another = words and any(isinstance(op, PhraseEnd) for op in step.ops)
                    more = None if another else partly.after(step.ops, kind, meant)
                    if more is None:
                        continue
                    key = step.state, frozenset(more.slots.items()), more.number
                    if key not in seen:
                        seen.add(key)
                        onward.append((step.state, more, f"{words} {word}"))
        ways = onward
    return None
