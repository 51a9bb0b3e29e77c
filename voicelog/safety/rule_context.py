"""One session as the rules read it, prepared in one pass over its marks, as they come.

A doubtful mark may raise a finding and never clear one. So where a rule asks "which level
before this press?" or "which ceiling is in force?", the answer is not one mark but the
newest sure one with every doubtful one since, and the rule fires when any of them fires it.
In a session without doubt that is always a single mark.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Container, Iterator, Mapping, Sequence
from copy import copy
from dataclasses import dataclass, fields, replace
from functools import cached_property
from itertools import accumulate
from typing import Any, TypeVar

from voicelog.analysis.session_digest import RepDigest, digest_session
from voicelog.model import Mark, Session, Slot, TimeInterval
from voicelog.model.aggression import AGGRESSION_SIGNS
from voicelog.model.domain import FIND_LEVEL, STIMULATION
from voicelog.safety.contingency import between
from voicelog.safety.history import History
from voicelog.safety.settings import Thresholds, changed

__all__ = ["LevelPress", "MarkKey", "RepNumber", "RuleContext", "StrongSign", "mark_key"]

MarkKey = tuple[str, str, str, Slot | None, float]
RepNumber = Callable[[Mark], int | None]
Kept = TypeVar("Kept")


@dataclass(frozen=True, slots=True, eq=False)
class LevelPress:
    """One press that carried a level.

    `before`: the presses that may be the one before it; `held`: the condition marks in
    force, by name; `first`: whether no sure press came before it.
    """

    mark: Mark
    level: int
    before: tuple[LevelPress, ...]
    held: Mapping[str, tuple[Mark, ...]]
    first: bool

    def values(self, name: str) -> set[object]:
        """The values that a condition may have at this press. `name` is that of a condition."""
        return {mark.value for mark in self.held.get(name, ())}


@dataclass(frozen=True, slots=True, eq=False)
class StrongSign:
    """A strong sign; `before`: the presses that may be the last before it; `to`: what was
    pressed last in the same rep."""

    mark: Mark
    before: tuple[LevelPress, ...]
    to: Mark | None


class RuleContext:
    """A session with what a rule may ask about it, as far as it has been taken in.

    It takes in a session, then the same session with more in it, and so on. A rule looks at what
    came last: `timeline` holds each of those marks, with its press if it is one that carries a
    level, and with its sign if that is a strong one; `presses`, `strong` and `buzzes` (vibrate and
    tone) are the same in parts. What a rule has to know of the marks before it keeps in a record of
    its own (`kept`). `press_count` are all presses with a level by now.

    `unit` is the dog's transmitter; `carried` are the conditions that held before anything was
    said. `number` gives the rep number that people are shown for a mark.
    """

    def __init__(self, session: Session, history: History, thresholds: Thresholds) -> None:
        self.session = session
        self.history = history
        self.thresholds = thresholds
        self.unit = session.dog.transmitter
        self.carried = tuple(_carried(session))
        self.taken = self.press_count = 0
        self.doubtful: Container[str] = frozenset()
        self.timeline: list[tuple[Mark, LevelPress | None, StrongSign | None]] = []
        self.presses: list[LevelPress] = []
        self.strong: list[StrongSign] = []
        self.buzzes: list[Mark] = []
        self._number: RepNumber | None = None
        self._sure_reps: Sequence[int] | None = None
        self._changed: dict[tuple[str, ...], tuple[str, ...]] = {}
        self._over_s = -math.inf if _over_before(history) else math.inf
        self._newest_s = -math.inf
        self._before: tuple[LevelPress, ...] = ()
        self._held: dict[str, tuple[Mark, ...]] = {mark.name: (mark,) for mark in self.carried}
        self._last: Mark | None = None
        self._first = True
        self._kept: dict[type, Any] = {}

    def take(
        self,
        session: Session,
        doubtful: Container[str] = frozenset(),
        number: RepNumber | None = None,
        upto: int | None = None,
    ) -> bool:
        """Take in what is new in the session, its first `upto` marks where that is given; whether
        that was possible. It is not where it was over before something that was looked at already:
        then all is to be looked at anew."""
        self.session, self.doubtful, self._number = session, doubtful, number
        self.timeline, self.presses, self.strong, self.buzzes = [], [], [], []
        self.__dict__.pop("rep_digests", None)
        self._sure_reps = None
        before_s = self._newest_s
        new = session.marks[self.taken : upto]
        for mark in new:
            self._take(mark)
        self.taken += len(new)
        self.press_count += len(self.presses)
        return not self._over_s < before_s or self._over_s == -math.inf

    def _take(self, mark: Mark) -> None:
        press, strong = None, None
        self._newest_s = max(self._newest_s, mark.at_s)
        if mark.kind == "press":
            self._last = mark
            if mark.name in STIMULATION and isinstance(mark.value, int):
                press = LevelPress(mark, mark.value, self._before, self._held, self._first)
                if mark.entry in self.doubtful:
                    self._before = (*self._before, press)
                else:
                    self._before, self._first = (press,), False
                self.presses.append(press)
            else:
                self.buzzes.append(mark)
        elif mark.kind == "condition":
            self._held = _holding(self._held, mark, mark.entry not in self.doubtful)
        elif mark.kind == "sign" and mark.value == "strong":
            last = self._last
            same = last is not None and last.rep is not None and last.rep == mark.rep
            strong = StrongSign(mark, self._before, last if same else None)
            self.strong.append(strong)
            if mark.name in AGGRESSION_SIGNS and mark.at_s < self._over_s:
                self._over_s = mark.at_s
        self.timeline.append((mark, press, strong))

    def cannot_be(self, *levels: int) -> str:
        """What is to be done where one of the `levels` cannot be on the transmitter, whose top was
        given, so that no advice follows from it; "" where all of them can."""
        unit = self.unit
        wrong = max(levels)
        if unit.top is None or wrong <= unit.highest:
            return ""
        return (
            f"Level {wrong} cannot be right: the transmitter goes to {unit.highest}. Check what "
            "was said, and correct the entry or the dog's profile."
        )

    def kept(self, kind: type[Kept]) -> Kept:
        """The record that a rule keeps of the marks so far, made when first asked for.

        `kind` is a dataclass whose fields have defaults. A field's list or dict may be changed, and
        what is in it may not, since that is shared with states that were kept before.
        """
        if kind not in self._kept:
            self._kept[kind] = kind()
        record: Kept = self._kept[kind]
        return record

    def copied(self) -> RuleContext:
        """The same as far as it has come, to go on with beside this one."""
        twin = copy(self)
        twin.go_on_with({kind: _copied(one) for kind, one in self._kept.items()})
        return twin

    def go_on_with(self, records: dict[type, Any]) -> None:
        """Go on with these records of the rules."""
        self._kept = records

    def sure_reps(self, rep: int) -> int:
        """How many reps without doubt there are up to the one of that number; doubtful ones pass no
        time."""
        if self._sure_reps is None:
            self._sure_reps = tuple(accumulate(not one.doubtful for one in self.session.reps))
        return self._sure_reps[min(rep, len(self._sure_reps)) - 1] if rep > 0 else 0

    @cached_property
    def rep_digests(self) -> tuple[RepDigest, ...]:
        """The session's reps in short, made once for the rules that look across sessions."""
        return digest_session(self.session).reps

    def over(self, mark: Mark) -> bool:
        """Whether the session was over by then, a growl, snap or bite having been said today.
        `mark` is one of this session."""
        if mark.at_s != self._over_s:
            return mark.at_s > self._over_s
        for one in self.session.marks:  # lines without times are all of one moment, in order
            if one.at_s == self._over_s:
                if (one.kind, one.value) == ("sign", "strong") and one.name in AGGRESSION_SIGNS:
                    return True
                if mark_key(one) == mark_key(mark):
                    return False
        return True

    def mostly_above(self, from_: Mark, to: Mark, limit_s: float) -> TimeInterval | None:
        """The time (s) from one mark to another, where most of it lies above a limit.

        None where it does not, and of two marks of one breath or of one moment.
        """
        span = self._between(from_, to)
        most = self.thresholds.mostly_share
        return span if span is not None and span.share_above(limit_s) >= most else None

    def mostly_below(self, from_: Mark, to: Mark, limit_s: float) -> TimeInterval | None:
        """The same, where most of it lies below a limit."""
        span = self._between(from_, to)
        most = self.thresholds.mostly_share
        return span if span is not None and span.share_below(limit_s) >= most else None

    def _between(self, from_: Mark, to: Mark) -> TimeInterval | None:
        if from_.entry == to.entry or from_.at_s == to.at_s:
            return None
        return between(from_.at_s, to.at_s, self.thresholds.narrator_s)

    def changed(self, names: tuple[str, ...]) -> tuple[str, ...]:
        """A phrase for each of these thresholds that is not as usual, made once for them all."""
        if names not in self._changed:
            self._changed[names] = changed(self.thresholds, names)
        return self._changed[names]

    def sure(self, mark: Mark) -> bool:
        """Whether a mark may clear a finding."""
        return mark.entry not in self.doubtful

    def to_check(self, mark: Mark) -> bool:
        """Whether the rep of a mark is to check, be each of its words sure or not."""
        reps = self.session.reps
        return mark.rep is not None and mark.rep <= len(reps) and reps[mark.rep - 1].doubtful

    def distractions(self, press: LevelPress) -> set[str]:
        """The distractions that may hold at a press; "" where perhaps none was said."""
        marks = press.held.get("distraction", ())
        said = {str(mark.value) for mark in marks}
        return said if any(map(self.sure, marks)) else {*said, ""}

    def in_search(self, press: LevelPress) -> bool:
        """Whether a press is surely of the drill "find level", and of no other."""
        marks = press.held.get("drill", ())
        searched = [mark.value == FIND_LEVEL for mark in marks]
        return bool(searched) and all(searched) and any(map(self.sure, marks))

    @property
    def age_months(self) -> int | None:
        """The dog's age in whole months at the session, where both dates are known."""
        born, at = self.session.dog.born, self.history.at
        if born is None or at is None:
            return None
        return (at.year - born.year) * 12 + at.month - born.month - (at.day < born.day)

    @property
    def is_pup(self) -> bool:
        """Whether the dog is known to be younger than the set age."""
        return self.age_months is not None and self.age_months < self.thresholds.pup_months

    def number(self, mark: Mark) -> int | None:
        """The rep number that people are shown for a mark."""
        return mark.rep if self._number is None else self._number(mark)

    def where(self, mark: Mark) -> str:
        """ " in rep 3", or nothing for a mark outside every rep."""
        number = self.number(mark)
        return "" if number is None else f" in rep {number}"


def _copied(record: Any) -> Any:
    """A rule's record, its lists and dicts too; what is in those is never changed."""
    parts = {
        one.name: copy(value)
        for one in fields(record)
        if isinstance(value := getattr(record, one.name), list | dict)
    }
    return replace(record, **parts)


def mark_key(mark: Mark) -> MarkKey:
    """What identifies a mark in every assembly of the same entries."""
    return (mark.entry, mark.kind, mark.name, mark.value, mark.at_s)


def _over_before(history: History) -> bool:
    """Whether an earlier session of the day ended in a growl, snap or bite."""
    return any(
        sign.sign in AGGRESSION_SIGNS and history.same_day(sign.at) for sign in history.strong
    )


def _holding(
    held: dict[str, tuple[Mark, ...]], mark: Mark, is_sure: bool
) -> dict[str, tuple[Mark, ...]]:
    """What holds after a condition mark; a new distraction ends the last one's source."""
    now = {**held, mark.name: (mark,) if is_sure else (*held.get(mark.name, ()), mark)}
    if is_sure and mark.name == "distraction":
        now.pop("distraction_source", None)
    return now


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
