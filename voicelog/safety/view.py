"""One session as the rules read it, prepared in one pass over its marks.

A doubtful mark may raise a finding and never clear one. So where a rule asks "which level
before this press?" or "which ceiling is in force?", the answer is not one mark but the
newest sure one with every doubtful one since, and the rule fires when any of them fires it.
In a session without doubt that is always a single mark.
"""

from __future__ import annotations

from collections.abc import Container, Iterator, Mapping
from dataclasses import dataclass

from voicelog.model import Mark, Session
from voicelog.safety.history import STIMULATION, History
from voicelog.safety.settings import Thresholds

__all__ = ["Press", "Strong", "View"]

MarkKey = tuple[str, str, str, float]


@dataclass(frozen=True, slots=True, eq=False)
class Press:
    """One press that carried a level.

    `before`: the presses that may be the one before it; `held`: the condition marks in
    force, by name; `first`: whether no sure press came before it.
    """

    mark: Mark
    level: int
    before: tuple[Press, ...]
    held: Mapping[str, tuple[Mark, ...]]
    first: bool

    def values(self, name: str) -> set[object]:
        """The values that a condition may have at this press."""
        return {mark.value for mark in self.held.get(name, ())}


@dataclass(frozen=True, slots=True, eq=False)
class Strong:
    """A strong sign; `before`: the presses that may be the last before it; `to`: what was
    pressed last in the same rep."""

    mark: Mark
    before: tuple[Press, ...]
    to: Mark | None


class View:
    """A session with what a rule may ask about it. Immutable once built.

    `timeline` holds each mark, with its press if it is one that carries a level, and with its
    sign if that is a strong one. `numbers` translates marks to the rep numbers that people
    are shown.
    """

    def __init__(
        self,
        session: Session,
        history: History,
        thresholds: Thresholds,
        doubtful: Container[str] = frozenset(),
        numbers: Mapping[MarkKey, int | None] | None = None,
    ) -> None:
        self.session = session
        self.history = history
        self.thresholds = thresholds
        self.step = session.dog.transmitter.one_step
        self.doubtful = doubtful
        self.timeline: list[tuple[Mark, Press | None, Strong | None]] = []
        self.presses: list[Press] = []
        self.strong: list[Strong] = []
        self._numbers = numbers or {}
        before: tuple[Press, ...] = ()
        held: dict[str, tuple[Mark, ...]] = {mark.name: (mark,) for mark in _carried(session)}
        last: Mark | None = None
        first = True
        for mark in session.marks:
            press, strong = None, None
            if mark.kind == "press":
                last = mark
                if mark.name in STIMULATION and isinstance(mark.value, int):
                    press = Press(mark, mark.value, before, held, first)
                    if mark.entry in doubtful:
                        before = (*before, press)
                    else:
                        before, first = (press,), False
                    self.presses.append(press)
            elif mark.kind == "condition":
                kept = held.get(mark.name, ()) if mark.entry in doubtful else ()
                held = {**held, mark.name: (*kept, mark)}
            elif mark.kind == "sign" and mark.value == "strong":
                same = last is not None and last.rep is not None and last.rep == mark.rep
                strong = Strong(mark, before, last if same else None)
                self.strong.append(strong)
            self.timeline.append((mark, press, strong))

    def sure(self, mark: Mark) -> bool:
        """Whether a mark may clear a finding."""
        return mark.entry not in self.doubtful

    def number(self, mark: Mark) -> int | None:
        """The rep number that people are shown for a mark."""
        return self._numbers.get(mark_key(mark), mark.rep)

    def where(self, mark: Mark) -> str:
        """ " in rep 3", or nothing for a mark outside every rep."""
        number = self.number(mark)
        return "" if number is None else f" in rep {number}"


def mark_key(mark: Mark) -> MarkKey:
    """What identifies a mark in every assembly of the same entries."""
    return (mark.entry, mark.kind, mark.name, mark.at_s)


def _carried(session: Session) -> Iterator[Mark]:
    """Conditions that held before the first mark: from the session before, or the profile."""
    if session.dog.ceiling is not None:
        yield Mark(
            at_s=session.start_s, entry="", kind="condition", name="ceiling",
            value=session.dog.ceiling,
        )  # fmt: skip
    said = {(mark.name, mark.at_s) for mark in session.marks if mark.kind == "condition"}
    for held in session.conditions:
        if held.at_s <= session.start_s and (held.name, held.at_s) not in said:
            value = int(held.value) if held.value.lstrip("-").isdigit() else held.value
            yield Mark(at_s=held.at_s, entry="", kind="condition", name=held.name, value=value)
