"""A dog over weeks in one picture: how often it came unaided, over the levels used.

Two panels stand over one time axis, since two scales in one panel would let a line of one be read
on the other. Gaps without work are as wide as they were, and no line crosses one of more than two
weeks. Signs, stops and open matters have lanes of their own, named in words. Each session is a
column that can be pointed at, reached with the keyboard, and followed to the session.

Where there are more sessions than can stand apart, the picture holds the newest that can, and
`months_svg` draws everything by month.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date
from itertools import pairwise

from voicelog.report.months_svg import months_picture
from voicelog.report.paper import CourseFigure, CoursePoint, SoundReference
from voicelog.report.svg_panels import (
    LANE_HEIGHT,
    Panel,
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
    band,
    disc,
    legend_parts,
    line,
    path,
    ring,
    svg,
    text,
)
from voicelog.report.time_axis import TimeAxis, spread, window_start

__all__ = ["FEW_CALLS", "GAP_DAYS", "course_svgs", "places", "shown_points"]

FEW_CALLS = 5
"""Calls of a session under which its dot is small."""
GAP_DAYS = 14
"""Days without a session over which no line is drawn."""

_PANEL = 104.0
_APART = 8.0
"""Least distance of two sessions, px."""
_MOVED = 7.0
"""How far a session may stand from its day, px, so that two do not hide each other."""
_SHORTEST = 14
_WINDOWS = (731, 366, 183, 92, 57, 29, _SHORTEST)
"""Days of the picture, from the longest, where not all sessions can stand apart."""

_SessionLink = Callable[[SoundReference], str | None]


def course_svgs(
    figure: CourseFigure, ident: str, width: float, link: _SessionLink | None = None
) -> list[str]:
    """The <svg> elements for a width (px): the sessions, and where those are not all, the months.

    Args:
        figure: what is drawn.
        ident: makes their ids unique in a page.
        link: where a session opens.
    """
    axis, points = shown_points(figure, width)
    dated = figure.sessions - figure.undated
    picture = _sessions(figure, axis, points, width, link)
    if len(points) == dated:
        return [svg(picture, figure.title, ident, linked=link is not None)]
    title = f"{figure.title}: the last {_span((axis.last - axis.first).days + 1)}"
    name = f"All {dated} sessions, month by month"
    return [
        svg(picture, title, ident, linked=link is not None),
        svg(months_picture(figure, width, name), name, f"{ident}-all", linked=False),
    ]


def shown_points(figure: CourseFigure, width: float) -> tuple[TimeAxis, tuple[CoursePoint, ...]]:
    """The axis of a `figure` at a `width` (px), and the sessions on it: all that have a date, or
    the newest that can stand apart within a few pixels of their day."""
    dated = [one for one in figure.points if one.at.day is not None]
    starts = [min(_day(dated[0]), window_start(figure.last, _SHORTEST))]
    starts += [window_start(figure.last, days) for days in _WINDOWS]
    found = None
    for start in starts:
        points = tuple(one for one in dated if _day(one) >= start)
        if not points:
            break
        axis = TimeAxis(start, figure.last, LEFT, width - RIGHT)
        found = axis, points
        if _readable(axis, points):
            break
    if found is None:  # all long before the axis ends, which `course_figure` does not make
        raise ValueError("no session on the axis")
    return found


def places(axis: TimeAxis, points: Sequence[CoursePoint]) -> tuple[float, ...]:
    """Where the sessions `points` stand on an `axis`, px: on their day, or a
    little beside it where two would touch."""
    days = [axis.x(_day(one)) for one in points]
    return spread(days, _APART, axis.left + 4, axis.right - 4)


def _readable(axis: TimeAxis, points: Sequence[CoursePoint]) -> bool:
    """Whether the sessions stand apart, each next to its day."""
    xs = places(axis, points)
    near = all(abs(axis.x(_day(one)) - x) <= _MOVED for x, one in zip(xs, points, strict=True))
    return near and all(b - a > _APART - 0.1 for a, b in pairwise(xs))


def _day(one: CoursePoint) -> date:
    return one.at.day or date.min


def _span(days: int) -> str:
    return f"{round(days / 30.44)} months" if days > 92 else f"{round(days / 7)} weeks"


def _sessions(
    figure: CourseFigure,
    axis: TimeAxis,
    points: Sequence[CoursePoint],
    width: float,
    link: _SessionLink | None,
) -> Picture:
    xs = places(axis, points)
    columns = list(zip(xs, points, strict=True))
    parts: list[str] = []
    keys: list[LegendItem] = []
    top, floor = 16.0, 0.0
    if any(one.at.asked for one in points):
        panel = share_panel(axis, top, _PANEL)
        parts += [*panel.parts, *_shares(panel, columns)]
        keys += _share_keys(points)
        floor, top = panel.floor, panel.floor + 24
    if any(one.at.high is not None for one in points):
        used = [one.at for one in points]
        levels = [n for one in used for n in (one.low, one.high, *one.strong) if n is not None]
        panel = level_panel(
            axis, top, _PANEL, f"Levels used ({figure.mode})", levels, figure.ceiling
        )
        parts += [*panel.parts, *_levels(panel, columns)]
        keys += _level_keys(figure, points)
        floor = panel.floor
    elif figure.mode or any(map(_left_out, figure.points)):  # else there never was a level
        said = "No level was used in these sessions."
        if any(map(_left_out, points)):
            said = "No level of this transmitter and mode in these."
        parts.append(text(8, top, said, bold=True))
        floor = top + 8
    for lane in LANES:
        marked = [x for x, one in columns if lane in one.marks]
        if marked:
            parts += lane_parts(lane, axis, floor, marked)
            floor += LANE_HEIGHT
    below = floor + (50 if axis.years else 36)
    legend, deep = legend_parts(keys, below, width)
    words = [one.words for one in points]
    if figure.undated:
        words.append(f"Not drawn, since the day is not known: {figure.undated}.")
        legend.append(text(8, below + deep + 8, words[-1]))
        deep += 20
    edges = zip(_edges(xs, axis), points, strict=True)
    bands = [
        band(left, 20, right - left, floor - 16, one.words, None if link is None else link(one.ref))
        for (left, right), one in edges
    ]
    parts = [*axis_parts(axis, 26, floor), *parts, *legend, *bands]
    return Picture(width, below + deep, parts, " ".join(words))


def _shares(panel: Panel, columns: Sequence[tuple[float, CoursePoint]]) -> list[str]:
    parts = []
    dots = [(x, one, one.at.unaided / one.at.asked) for x, one in columns if one.at.asked]
    for (x, one, share), (to, other, then) in pairwise(dots):
        if (_day(other) - _day(one)).days <= GAP_DAYS:
            parts.append(line(x, panel.at(share), to, panel.at(then), thick=1.4, pale=0.55))
    for x, one, share in dots:
        if one.interval is not None:
            low, high = one.interval
            parts.append(line(x, panel.at(low), x, panel.at(high), pale=0.4))
        parts.append(disc(x, panel.at(share), 2.6 if one.at.asked < FEW_CALLS else 4.4))
    return parts


def _share_keys(points: Sequence[CoursePoint]) -> list[LegendItem]:
    asked = [one.at.asked for one in points if one.at.asked]
    keys: list[LegendItem] = []
    if any(many >= FEW_CALLS for many in asked):
        keys.append(LegendItem((disc(0, 0, 4.4),), f"unaided, {FEW_CALLS} calls or more"))
    if any(many < FEW_CALLS for many in asked):
        keys.append(LegendItem((disc(0, 0, 2.6),), f"fewer than {FEW_CALLS} calls"))
    keys.append(LegendItem((line(0, -8, 0, 8, pale=0.4),), "95% interval"))
    return keys


def _levels(panel: Panel, columns: Sequence[tuple[float, CoursePoint]]) -> list[str]:
    parts = []
    for x, one in columns:
        if _left_out(one):
            parts.append(_elsewhere(x, panel.floor - 1))
        if one.at.low is None or one.at.high is None:
            continue
        parts.append(level_span(x, panel.at(one.at.low), panel.at(one.at.high)))
        if one.at.answered is not None:
            parts.append(disc(x, panel.at(one.at.answered), 4))
        elif one.at.tried:
            parts.append(ring(x, panel.at(one.at.high), 3.8))
    return parts


def _level_keys(figure: CourseFigure, points: Sequence[CoursePoint]) -> list[LegendItem]:
    keys = [LegendItem((level_span(0, 7, -7),), "lowest to highest level used")]
    if any(one.at.answered is not None for one in points):
        keys.append(
            LegendItem(
                (level_span(0, 7, -7), disc(0, 0, 4)), f"middle level answered ({figure.drill})"
            )
        )
    if any(one.at.answered is None and one.at.tried for one in points):
        keys.append(LegendItem((level_span(0, 9, -5), ring(0, -5, 3.8)), "none answered"))
    if any(map(_left_out, points)):
        words = "other transmitter or mode: not shown"
        keys.append(LegendItem((_elsewhere(0, 4),), words))
    if figure.ceiling is not None:
        keys.append(LegendItem((line(-9, 0, 9, 0, dash="7 4", thick=1.6),), "never above"))
    return keys


def _left_out(one: CoursePoint) -> bool:
    """Whether levels were used that the panel does not show."""
    return one.at.pressed > 0 and (one.at.other_transmitter or one.at.other_mode)


def _elsewhere(x: float, y: float) -> str:
    return path(f"M{x:.1f} {y - 8:.1f}l4 7h-8z", thick=1.2)


def _edges(xs: Sequence[float], axis: TimeAxis) -> list[tuple[float, float]]:
    """Left and right edge of each session's column: half the way to its neighbours, not far."""
    middles = [(a + b) / 2 for a, b in pairwise(xs)]
    lefts, rights = [axis.left - 6, *middles], [*middles, axis.right + 6]
    return [
        (max(left, x - 22), min(right, x + 22))
        for x, left, right in zip(xs, lefts, rights, strict=True)
    ]
