"""All of a dog's months in one picture, where its sessions are too many to be drawn each."""

from __future__ import annotations

from datetime import date

from voicelog.report.paper import CourseColumn, CourseFigure
from voicelog.report.svg_panels import (
    LANE_HEIGHT,
    lane_parts,
    level_panel,
    level_span,
    share_panel,
)
from voicelog.report.svg_parts import (
    LANES,
    LEFT,
    RIGHT,
    LegendItem,
    Picture,
    axis_parts,
    disc,
    legend_parts,
    line,
    rect,
    text,
)
from voicelog.report.time_axis import TimeAxis

__all__ = ["months_picture"]

_PANEL = 72.0
_MARK = 14.0
"""Width of a month under which a lane has dots for marks, px."""


def months_picture(figure: CourseFigure, width: float, name: str) -> Picture:
    """The months of a figure at a width, px, under its `name`."""
    months = figure.months
    axis = TimeAxis(months[0].at.first, figure.last, LEFT, width - RIGHT, months=True)
    middles = {one.at.first: _middle(one, axis) for one in months}
    parts = [text(8, 14, name, bold=True)]
    keys: list[LegendItem] = []
    top, floor = 34.0, 24.0
    if any(one.at.share is not None for one in months):
        panel = share_panel(axis, top, _PANEL)
        parts += panel.parts
        for one in months:
            if one.at.share is None:
                continue
            left, right = _edges(one, axis)
            roof = panel.at(one.at.share.share)
            high = panel.at(0) - roof
            parts.append(rect(left, roof, right - left, high, filled=True, pale=0.55))
            reach = panel.at(one.at.share.low), panel.at(one.at.share.high)
            parts.append(
                line(middles[one.at.first], reach[0], middles[one.at.first], reach[1], pale=0.7)
            )
        box = rect(-5, -3, 10, 11, filled=True, pale=0.55)
        keys.append(LegendItem((box, line(0, -8, 0, 2)), "a month, with its 95% interval"))
        floor, top = panel.floor, panel.floor + 24
    used = [one.at for one in months]
    levels = [n for one in used for n in (one.low, one.high) if n is not None]
    if levels:
        panel = level_panel(
            axis, top, _PANEL, f"Levels used ({figure.mode})", levels, figure.ceiling
        )
        parts += panel.parts
        for month in used:
            if month.low is not None and month.high is not None:
                x = middles[month.first]
                parts.append(level_span(x, panel.at(month.low), panel.at(month.high)))
                if month.answered is not None:
                    parts.append(disc(x, panel.at(month.answered), 3.2))
        keys.append(LegendItem((level_span(0, 7, -7),), "lowest to highest level used"))
        answered = (level_span(0, 7, -7), disc(0, 0, 3.2))
        keys.append(LegendItem(answered, "middle level answered"))
        floor = panel.floor
    for lane in LANES:
        marked = [middles[one.at.first] for one in months if lane in one.marks]
        if marked:
            small = 28 * axis.day_width < _MARK
            parts += lane_parts(lane, axis, floor, marked, small=small)
            floor += LANE_HEIGHT
    below = floor + (50 if axis.years else 36)
    legend, deep = legend_parts(keys, below, width)
    parts = [*axis_parts(axis, 44, floor), *parts, *legend]
    return Picture(width, below + deep, parts, " ".join(one.words for one in months))


def _edges(one: CourseColumn, axis: TimeAxis) -> tuple[float, float]:
    """Left and right edge of a month, a little apart from the next."""
    first = one.at.first
    following = date(first.year + first.month // 12, first.month % 12 + 1, 1)
    left = max(axis.left, axis.x(first) - axis.day_width / 2) + 0.7
    right = min(axis.right, axis.x(following) - axis.day_width / 2) - 0.7
    return left, max(left + 1.5, right)


def _middle(one: CourseColumn, axis: TimeAxis) -> float:
    left, right = _edges(one, axis)
    return (left + right) / 2
