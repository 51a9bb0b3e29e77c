"""Which stretches of two hearings of one recording are the same, and which share sound."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

__all__ = ["RecutGroup", "TimeSpan", "UtteranceMatch", "common_s", "matched"]

NEAR_S = 0.25
"""Stretches that start and end this near to each other (s) are the same."""
SHARE = 1 / 3
"""With more than this of the shorter one in common, two stretches hold the same sound. A
stretch begins with up to half a second before its first word."""


class TimeSpan(Protocol):
    """A stretch of a recording (s)."""

    @property
    def start_s(self) -> float: ...

    @property
    def end_s(self) -> float: ...


@dataclass(frozen=True, slots=True)
class RecutGroup:
    """Old and new stretches that hold the same sound, cut otherwise; places in the lists."""

    old: tuple[int, ...]
    new: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class UtteranceMatch:
    """`same`: new -> old; `groups`: where new ones are not the same as any old one, in order
    of time, with the old ones that they share sound with; `gone`: old ones not found again."""

    same: dict[int, int]
    groups: tuple[RecutGroup, ...]
    gone: tuple[int, ...]


def matched(old: Sequence[TimeSpan], new: Sequence[TimeSpan]) -> UtteranceMatch:
    """Pair the stretches of two hearings; both in order of time, the new ones apart."""
    same = _same(old, new)
    free = [place for place in range(len(old)) if place not in set(same.values())]
    groups: list[tuple[list[int], list[int]]] = []
    for place, one in enumerate(new):
        if place in same:
            continue
        shares = [other for other in free if _share(old[other], one)]
        if groups and set(shares) & set(groups[-1][0]):
            groups[-1][0].extend(other for other in shares if other not in groups[-1][0])
            groups[-1][1].append(place)
        else:
            groups.append((shares, [place]))
    grouped = {place for olds, _ in groups for place in olds}
    return UtteranceMatch(
        same=same,
        groups=tuple(RecutGroup(tuple(olds), tuple(news)) for olds, news in groups),
        gone=tuple(place for place in free if place not in grouped),
    )


def _same(old: Sequence[TimeSpan], new: Sequence[TimeSpan]) -> dict[int, int]:
    """Each new stretch with the nearest old one, nearest pairs first, none twice."""
    near: list[tuple[float, int, int]] = []
    first = 0
    for place, one in enumerate(new):
        while first < len(old) and old[first].start_s < one.start_s - NEAR_S:
            first += 1
        for other in range(first, len(old)):
            starts = abs(old[other].start_s - one.start_s)
            if starts > NEAR_S:
                break
            ends = abs(old[other].end_s - one.end_s)
            if ends <= NEAR_S:
                near.append((starts + ends, place, other))
    same: dict[int, int] = {}
    taken: set[int] = set()
    for _, place, other in sorted(near):
        if place not in same and other not in taken:
            same[place] = other
            taken.add(other)
    return same


def _share(a: TimeSpan, b: TimeSpan) -> bool:
    common, shorter = common_s(a, b), min(a.end_s - a.start_s, b.end_s - b.start_s)
    return common > 0 and common > SHARE * shorter


def common_s(a: TimeSpan, b: TimeSpan) -> float:
    """How long (s) two stretches are both under way; below 0 the time between them."""
    return min(a.end_s, b.end_s) - max(a.start_s, b.start_s)
