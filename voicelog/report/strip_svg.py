"""The calendar strip of the kennel: a row a dog, a box a day worked, filled as far as the calls
were answered unaided; stops, strong signs and open matters over it.

A day without work stays empty, so that who was left out is seen. Days that were not read are
hatched with dots, never shown as empty. Each box leads to its session.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import timedelta
from html import escape
from itertools import groupby

from voicelog.report.paper import CoursePoint, Lane, SoundReference, StripFigure, StripRow
from voicelog.report.svg_parts import (
    LANES,
    LEFT,
    RIGHT,
    WIDE,
    LegendItem,
    Picture,
    axis_parts,
    band,
    lane_mark,
    legend_parts,
    line,
    rect,
    svg,
    text,
)
from voicelog.report.time_axis import TimeAxis

__all__ = ["ROWS", "strip_svgs"]

ROWS = 18
"""Dogs of one picture, so that a long list may break over pages."""

_TOP, _ROW, _BOX, _MARK = 8.0, 34.0, 15.0, 15.0
_NAMES = 118.0
"""Room for the names of dogs where there is room for all weeks, px."""

_SessionLink = Callable[[SoundReference], str | None]


def strip_svgs(
    figure: StripFigure, ident: str, width: float, link: _SessionLink | None = None
) -> list[str]:
    """The <svg> elements for a width (px), each of a few dogs; a narrow one shows fewer days.

    Args:
        figure: what is drawn.
        ident: makes their ids unique in a page.
        link: where a session opens.
    """
    names, days = (_NAMES, figure.days) if width >= WIDE else (LEFT, min(21, figure.days))
    first = figure.last - timedelta(days=days - 1)
    axis = TimeAxis(first, figure.last, names, width - RIGHT)
    title = f"{figure.title}: {days // 7} weeks"
    made = []
    for number in range(0, len(figure.rows), ROWS):
        rows = figure.rows[number : number + ROWS]
        keys = _keys(rows if len(figure.rows) <= ROWS else figure.rows)
        picture = _strip(rows, axis, width, link, keys if number + ROWS >= len(figure.rows) else [])
        made.append(svg(picture, title, f"{ident}-{number}", linked=link is not None))
    return made


def _strip(
    rows: Sequence[StripRow],
    axis: TimeAxis,
    width: float,
    link: _SessionLink | None,
    keys: Sequence[LegendItem],
) -> Picture:
    parts, bands, words = [], [], []
    most = max((len(_marks(one)) for row in rows for one in row.points), default=0)
    floor, high = _TOP, _ROW + max(0, most - 1) * _MARK
    for row in rows:
        floor += high
        parts.append(_name(row.dog, axis.left, floor - 8))
        parts.append(line(axis.left, floor - 3, axis.right, floor - 3, pale=0.35))
        if row.since is not None and row.since > axis.first:
            parts.append(_unread(axis.left, axis.x(row.since) - axis.day_width / 2, floor - 9))
        shown = [one for one in row.points if one.at.day is not None and one.at.day >= axis.first]
        said = [one.words for one in shown]
        words.append(f"{row.dog}: {' '.join(said) or 'not worked in these weeks.'}")
        for _, some in groupby(shown, key=lambda one: one.at.day):
            of_day = list(some)
            for one, (left, wide) in zip(of_day, _boxes(of_day, axis), strict=True):
                parts += _box(one, left, floor - 4, wide)
                href = None if link is None else link(one.ref)
                told = f"{row.dog}, {one.words}"
                bands.append(band(left - 1, floor - high + 2, wide + 2, high - 3, told, href))
    below = floor + (50 if axis.years else 36)
    legend, deep = legend_parts(keys, below, width)
    parts = [*axis_parts(axis, _TOP, floor), *parts, *legend, *bands]
    return Picture(width, below + deep, parts, " ".join(words))


def _name(dog: str, room: float, y: float) -> str:
    """The dog's name, cut where it has no room; whole for whoever points at it."""
    most = int((room - 8) / 7)
    shown = dog if len(dog) <= most else f"{dog[: most - 1]}…"
    return f"<g><title>{escape(dog)}</title>{text(6, y, shown, bold=True)}</g>"


def _boxes(points: Sequence[CoursePoint], axis: TimeAxis) -> list[tuple[float, float]]:
    """Left edge and width of each session's box of a day: side by side where there are several."""
    day = points[0].at.day or axis.first
    wide = min(11.0, axis.day_width - 1.5)
    left = axis.x(day) - wide / 2
    each = wide / len(points)
    return [(left + each * number, each) for number in range(len(points))]


def _box(one: CoursePoint, left: float, floor: float, wide: float) -> list[str]:
    parts = [rect(left, floor - _BOX, wide, _BOX)]
    if one.at.asked:
        high = _BOX * one.at.unaided / one.at.asked
        parts.append(rect(left, floor - high, wide, high, filled=True, pale=0.75))
    else:
        parts.append(line(left + 2, floor - _BOX / 2, left + wide - 2, floor - _BOX / 2))
    for number, mark in enumerate(_marks(one)):
        parts.append(lane_mark(mark, left + wide / 2, floor - _BOX - 8 - number * _MARK))
    return parts


def _marks(one: CoursePoint) -> tuple[Lane, ...]:
    """The marks over a box, from below: a stop hides the sign it may rest on; words say all."""
    return tuple(mark for mark in one.marks if mark != "strong sign" or "stop" not in one.marks)


def _keys(rows: Sequence[StripRow]) -> list[LegendItem]:
    points = [one for row in rows for one in row.points]
    box = rect(-5, -8, 10, _BOX)
    part = rect(-5, 0, 10, 7, filled=True, pale=0.75)
    keys = [LegendItem((box, part), "worked; filled: share of calls unaided")]
    if any(not one.at.asked for one in points):
        keys.append(LegendItem((box, line(-3, -0.5, 3, -0.5)), "worked, no recall counted"))
    for lane in LANES:
        if any(lane in _marks(one) for one in points):
            keys.append(LegendItem((lane_mark(lane, 0, 0),), lane))
    if any(row.since is not None for row in rows):
        keys.append(LegendItem((_unread(-9, 9, 0),), "earlier, not read here"))
    keys.append(LegendItem((line(-7, 6, 7, 6, pale=0.35),), "not worked"))
    return keys


def _unread(left: float, right: float, y: float) -> str:
    return line(left, y, right, y, dash="1.5 3.5", thick=2, pale=0.6)
