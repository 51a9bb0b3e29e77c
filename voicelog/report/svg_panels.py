"""The two panels of the pictures over weeks, empty: a share of calls from none to all, and levels.

A panel is its name, its grid and what turns a value into a height; the pictures draw their marks
into it. Both may stand over each other on one time axis.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

from voicelog.report.paper import Lane
from voicelog.report.svg_parts import disc, lane_mark, line, path, text
from voicelog.report.time_axis import TimeAxis

__all__ = ["LANE_HEIGHT", "Panel", "lane_parts", "level_panel", "level_span", "share_panel"]

LANE_HEIGHT = 20.0
"""Height of a lane of marks, px."""

_LABEL = 13.0
"""Least distance of two labels of a panel, px."""


class Panel(NamedTuple):
    """The grid of a panel, where its floor is (px), and the height (px) of a value in it."""

    parts: list[str]
    floor: float
    at: Callable[[float], float]


def share_panel(axis: TimeAxis, top: float, height: float) -> Panel:
    """The panel of the share of calls answered unaided, 0 to 1, on an `axis`, named at `top`, of a
    `height` (px)."""
    floor = top + 12 + height

    def at(share: float) -> float:
        return floor - 4 - share * (height - 12)

    parts = [text(8, top, "Came unaided, share of calls", bold=True)]
    for share, words in ((0.0, "none"), (0.5, "half"), (1.0, "all")):
        parts.append(line(axis.left, at(share), axis.right, at(share), pale=0.25))
        parts.append(text(axis.left - 8, at(share) + 4, words, "end"))
    return Panel(parts, floor, at)


def level_panel(
    axis: TimeAxis,
    top: float,
    height: float,
    name: str,
    levels: Sequence[int],
    ceiling: int | None = None,
) -> Panel:
    """The panel of levels on an `axis`, under its `name` at `top`, of a `height` (px): from 1, or
    the lowest of `levels`, to their highest, with the `ceiling` as a line of its own."""
    floor = top + 12 + height
    limits = [] if ceiling is None else [ceiling]
    low, high = min(1, *levels), max([*levels, *limits])

    def at(level: float) -> float:
        return floor - 10 - (level - low) / max(1, high - low) * (height - 22)

    parts = [text(8, top, name, bold=True)]
    taken = [at(level) for level in limits]
    for level in _ticks(low, high):
        parts.append(line(axis.left, at(level), axis.right, at(level), pale=0.25))
        if all(abs(at(level) - other) >= _LABEL for other in taken):
            parts.append(text(axis.left - 8, at(level) + 4, f"{level}", "end"))
            taken.append(at(level))
    if ceiling is not None:
        where = at(ceiling)
        parts.append(line(axis.left, where, axis.right, where, dash="7 4", thick=1.6))
        parts.append(text(axis.left - 8, where + 4, f"ceiling {ceiling}", "end"))
    return Panel(parts, floor, at)


def level_span(x: float, low: float, high: float) -> str:
    """The mark of the levels used, at `x`, from `low` to `high` (px)."""
    return path(f"M{x - 3:.1f} {low:.1f}h6m-3 0V{high:.1f}m-3 0h6", thick=1.4)


def lane_parts(
    lane: Lane, axis: TimeAxis, top: float, places: Sequence[float], *, small: bool = False
) -> list[str]:
    """A `lane` under the panels of an `axis`, at `top`, named, with its marks at `places` (px); a
    `small` mark is a dot, for where marks would cover each other."""
    middle = top + LANE_HEIGHT / 2
    return [
        text(8, middle + 4, lane),
        line(axis.left, middle, axis.right, middle, pale=0.45, dash="1 5"),
        *(disc(x, middle, 2.4) if small else lane_mark(lane, x, middle) for x in places),
    ]


def _ticks(low: int, high: int) -> list[int]:
    """Levels to draw a line at: the highest, the lowest, then round ones between."""
    steps = (1, 2, 5, 10, 20, 50, 100, 200, 500)
    every = next((step for step in steps if (high - low) / step <= 5), high - low)
    inner = [level for level in range(low + 1, high) if level % every == 0]
    return list(dict.fromkeys([high, low, *inner]))
