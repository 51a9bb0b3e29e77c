"""A time axis for pictures: where a day lies, which days are labelled, where marks stand apart.

Gaps are to scale: a day is as wide as any other. Ticks stand on days that a person would name:
each day, Mondays, the first of a month, of a quarter, of a year, whichever is the finest whose
labels do not touch. Positions are in pixels (px) of the picture.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property
from typing import Literal, NamedTuple

from voicelog.report.words import day_month_words, month_words

__all__ = ["LABEL_GAP", "DayTick", "TimeAxis", "YearLabel", "spread", "text_width"]

LABEL_GAP = 7.0
"""The least room between two labels, px."""

_CHARACTER = 7.6
"""A character's mean width in the widest labels ("May", "30 May") at 11 px in DejaVu Sans, a wide
type, px; measured in a browser, rounded up."""

_Unit = Literal["day", "month", "year"]
_STEPS: tuple[tuple[_Unit, int], ...] = (
    ("day", 1),
    ("day", 2),
    ("day", 7),
    ("day", 14),
    ("month", 1),
    ("month", 2),
    ("month", 3),
    ("month", 6),
    ("year", 1),
    ("year", 2),
    ("year", 5),
    ("year", 10),
    ("year", 20),
    ("year", 50),
    ("year", 100),
)
_SHORTEST: dict[_Unit, int] = {"day": 1, "month": 28, "year": 365}
_WIDEST: dict[_Unit, str] = {"day": "30 May", "month": "May", "year": "2026"}


class DayTick(NamedTuple):
    """A labelled day and where it lies, px."""

    day: date
    x: float
    label: str


class YearLabel(NamedTuple):
    """A year under the first tick in it, centred at x, px."""

    x: float
    label: str


@dataclass(frozen=True)
class TimeAxis:
    """The days from `first` to `last`, both whole, over the pixels from `left` to `right`. With
    `months` no tick is finer than a month."""

    first: date
    last: date
    left: float
    right: float
    months: bool = False

    def __post_init__(self) -> None:
        if self.last < self.first or self.right <= self.left:
            raise ValueError(f"no axis from {self.first} to {self.last}")

    @property
    def day_width(self) -> float:
        """Pixels of a day."""
        return (self.right - self.left) / ((self.last - self.first).days + 1)

    def x(self, day: date) -> float:
        """The middle of a day, px. `day` may lie outside the axis."""
        return self.left + ((day - self.first).days + 0.5) * self.day_width

    @cached_property
    def ticks(self) -> tuple[DayTick, ...]:
        """The labelled days, in order, all on the axis; no two labels touch."""
        for unit, every in _STEPS:
            if self.months and unit == "day":
                continue
            room = text_width(_WIDEST[unit]) + LABEL_GAP
            if _SHORTEST[unit] * every * self.day_width >= room:
                found = tuple(self._ticks(unit, every))
                if found:
                    return found
        return (DayTick(self.first, self.x(self.first), str(self.first.year)),)

    @cached_property
    def years(self) -> tuple[YearLabel, ...]:
        """The years, each under the first tick in it; none where the ticks are years already."""
        if self.ticks[0].label.isdigit():
            return ()
        found: list[YearLabel] = []
        before = None
        for tick in self.ticks:
            if tick.day.year != before:
                label = YearLabel(tick.x, str(tick.day.year))
                if found and label.x - found[-1].x < text_width(label.label) + LABEL_GAP:
                    found.pop()
                found.append(label)
            before = tick.day.year
        return tuple(found)

    def _ticks(self, unit: _Unit, every: int) -> Iterator[DayTick]:
        for day in _days(self.first, self.last, unit, every):
            label = {
                "day": day_month_words(day),
                "month": month_words(day),
                "year": f"{day.year}",
            }[unit]
            yield DayTick(day, self.x(day), label)


def _days(first: date, last: date, unit: _Unit, every: int) -> Iterator[date]:
    """The days of a step from `first` to `last`; weeks begin on a Monday."""
    if unit == "day":
        # day 1 of the proleptic calendar was a Monday
        start = first.toordinal() + (1 - first.toordinal()) % every
        for ordinal in range(start, last.toordinal() + 1, every):
            yield date.fromordinal(ordinal)
        return
    months = every if unit == "month" else 12 * every
    for number in range(first.year * 12, last.year * 12 + 12):
        day = date(number // 12, number % 12 + 1, 1)
        if number % months == 0 and first <= day <= last:
            yield day


def text_width(words: str) -> float:
    """How wide a label is at most, at 11 px, px; `words` are a day, a month or a year."""
    return _CHARACTER * len(words)


def spread(places: Sequence[float], gap: float, low: float, high: float) -> tuple[float, ...]:
    """The `places` (px, in order) moved as little as need be so that each is `gap` from the next,
    all between `low` and `high`; as they were where there is no room for that.

    The least squares solution, by pooling adjacent violators (Barlow et al., Statistical Inference
    under Order Restrictions, 1972; from memory), then held within the bounds.
    """
    room = high - (len(places) - 1) * gap
    if room < low:
        return tuple(places)
    pools: list[tuple[float, int]] = []
    for number, place in enumerate(places):
        total, many = place - number * gap, 1
        while pools and pools[-1][0] / pools[-1][1] > total / many:
            total, many = total + pools[-1][0], many + pools[-1][1]
            pools.pop()
        pools.append((total, many))
    flat = [total / many for total, many in pools for _ in range(many)]
    return tuple(min(max(y, low), room) + number * gap for number, y in enumerate(flat))


def window_start(last: date, days: int) -> date:
    """The first of so many `days` that end with `last`."""
    if days > last.toordinal():
        return date.min
    return last - timedelta(days=days - 1)
