"""The pictures over weeks as SVG: which module draws what, and the curves of the times to come.

Each picture is made twice, for a telephone and for a screen or a sheet of paper, and the page's
style shows the one that fits: scaled down, its words could not be read.
"""

from __future__ import annotations

import math
from collections.abc import Callable

from voicelog.report.course_svg import course_svgs
from voicelog.report.paper import (
    CourseFigure,
    Figure,
    SoundReference,
    StripFigure,
    SurvivalCurve,
    TimesFigure,
)
from voicelog.report.strip_svg import strip_svgs
from voicelog.report.svg_parts import NARROW, WIDE, Picture, line, path, svg, text
from voicelog.report.words import counted

__all__ = ["plot_html", "plot_svgs"]

_LEFT, _TOP, _HEIGHT = 62.0, 26.0, 190.0

_Scale = Callable[[float], float]


def plot_html(
    figure: Figure, ident: str = "plot", link: Callable[[SoundReference], str | None] | None = None
) -> str:
    """The pictures of a figure in both widths, each in a block of its own.

    Args:
        figure: what is drawn.
        ident: makes the ids unique in a page.
        link: where a session opens, None where that is not known.
    """
    wide = "\n".join(plot_svgs(figure, f"{ident}-w", WIDE, link))
    narrow = "\n".join(plot_svgs(figure, f"{ident}-n", NARROW, link))
    return f'<div class="picture wide">{wide}</div><div class="picture narrow">{narrow}</div>'


def plot_svgs(
    figure: Figure,
    ident: str,
    width: float,
    link: Callable[[SoundReference], str | None] | None = None,
) -> list[str]:
    """The <svg> elements of a `figure` for a `width`, px; `ident`, `link` as for `plot_html`."""
    match figure:
        case CourseFigure():
            return course_svgs(figure, ident, width, link)
        case StripFigure():
            return strip_svgs(figure, ident, width, link)
        case TimesFigure():
            return [svg(_times(figure, min(width, 520)), figure.title, ident, linked=False)]


def _times(figure: TimesFigure, width: float) -> Picture:
    longest = max(max(one.longest for one in figure.curves), 1.0)
    names = [f"{one.name} ({counted(one.of, 'rep')})" for one in figure.curves]
    wide = width - _LEFT - 14
    floor = _TOP + _HEIGHT

    def x(seconds: float) -> float:
        return _LEFT + seconds / longest * wide

    def y(share: float) -> float:
        return floor - share * (_HEIGHT - 10)

    parts = [text(8, _TOP - 10, "Share of calls not come yet", bold=True)]
    for share, words in ((0.0, "none"), (0.25, ""), (0.5, "half"), (0.75, ""), (1.0, "all")):
        parts.append(line(_LEFT - 6, y(share), _LEFT + wide, y(share), pale=0.2))
        parts.append(text(_LEFT - 12, y(share) + 4, words, "end"))
    for seconds in _ticks(math.floor(longest)):
        parts.append(text(x(seconds), floor + 18, f"{seconds:g}", "middle", size=11))
    parts.append(text(_LEFT + wide, floor + 34, "seconds from the call", "end", size=11))
    for number, (one, name) in enumerate(zip(figure.curves, names, strict=True)):
        dash = "" if number == 0 else "5 4"
        parts.append(path(_steps(one, x, y), thick=2.2 if number == 0 else 1.6, dash=dash))
        key = floor + 54 + 18 * number
        parts.append(line(8, key - 4, 38, key - 4, thick=2.2 if number == 0 else 1.6, dash=dash))
        parts.append(text(46, key, name))
    words = " ".join(
        f"{one.name}, {one.of} reps: "
        + ", ".join(f"{share:.0%} after {t:g} s" for t, share in _some(one))
        + "."
        for one in figure.curves
    )
    return Picture(width, floor + 50 + 18 * len(names), parts, words)


def _ticks(high: int) -> list[int]:
    for every in (1, 2, 5, 10, 20, 50, 100, 200, 500):
        if high / every <= 8:
            return list(range(0, high + 1, every))
    return [0, high]


def _steps(one: SurvivalCurve, x: _Scale, y: _Scale) -> str:
    shape = f"M{x(0):.1f} {y(1):.1f}"
    for time, share in zip(one.times, one.share, strict=True):
        shape += f"H{x(time):.1f}V{y(share):.1f}"
    return f"{shape}H{x(one.longest):.1f}"


def _some(one: SurvivalCurve) -> list[tuple[float, float]]:
    every = max(1, len(one.times) // 6)
    return list(zip(one.times, one.share, strict=True))[::every]
