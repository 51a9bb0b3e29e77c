"""The plots over weeks as SVG, drawn in the ink of their page.

They use no colour but for the stress mark, which is also an exclamation mark; lines differ by
dashes and are named where they end, so they read in print, in grey and without sight of
colours. Each says itself in words for who cannot see it. Few reps are drawn small and hollow.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from html import escape

from voicelog.report.paper import Figure, SessionLevels, SurvivalCurve

__all__ = ["plot_svg"]

_LEFT, _RIGHT, _TOP, _HEIGHT = 62, 92, 26, 210
_FEWEST = 5
"""Reps of a session under which its mark is hollow."""


def plot_svg(figure: Figure, ident: str = "plot") -> str:
    """An <svg> element. `ident` makes its ids unique in a page. `figure` holds what is drawn."""
    draw = {"levels": _levels, "calls": _calls, "times": _times}[figure.kind]
    width, height, parts, words = draw(figure)
    title, desc = f"{ident}-title", f"{ident}-words"
    return "\n".join(
        (
            f'<svg xmlns="http://www.w3.org/2000/svg" role="img" width="{width:g}" '
            f'height="{height:g}" style="min-width:{0.8 * width:g}px" '
            f'viewBox="0 0 {width:g} {height:g}" aria-labelledby="{title} {desc}" '
            'font-family="sans-serif" font-size="12">',
            f'<title id="{title}">{escape(figure.title)}</title>',
            f'<desc id="{desc}">{escape(words)}</desc>',
            *parts,
            "</svg>",
        )
    )


Drawn = tuple[float, float, list[str], str]
_Scale = Callable[[float], float]


def _levels(figure: Figure) -> Drawn:
    stairs = figure.stairs
    tops = [one.high for one in stairs if one.high is not None]
    strong = [level for one in stairs for level in one.strong]
    limits = [figure.ceiling] if figure.ceiling is not None else []
    low, high = min(1, *tops), max([*tops, *strong, *limits])
    width, step = _room(len(stairs))
    floor = _TOP + _HEIGHT

    def y(level: float) -> float:
        return floor - (level - low) / max(1, high - low) * (_HEIGHT - 14) - 6

    parts = [_text(8, _TOP - 10, "level", "start")]
    for level in _ticks(low, high):
        parts += [_rule(y(level), width), _text(_LEFT - 12, y(level) + 4, f"{level:g}", "end")]
    if figure.ceiling is not None:
        parts.append(_line(_LEFT - 6, y(figure.ceiling), width - _RIGHT + 8, dash="7 4", thick=1.6))
        parts.append(
            _text(width - _RIGHT + 12, y(figure.ceiling) + 4, f"ceiling {figure.ceiling}", "start")
        )
    for place, one in enumerate(stairs):
        x = _LEFT + step * (place + 0.5)
        if one.low is not None and one.high is not None:
            parts.append(
                f'<path d="M{x:g} {y(one.low):g}V{y(one.high):g}" stroke="currentColor" '
                'stroke-width="1.3" fill="none"/>'
            )
            for level in (one.low, one.high):
                parts.append(_dash(x, y(level)))
        if one.answered is not None:
            parts.append(_disc(x, y(one.answered), one.pressed < _FEWEST))
        elif one.high is not None:
            parts.append(_cross(x, y(one.high)))
        for level in one.strong:
            parts.append(_bang(x, y(level) - 9))
        parts.append(_share_bar(x, floor + 16, step, one))
    parts.append(_text(8, floor + 27, "no", "start"))
    parts.append(_text(8, floor + 40, "button", "start"))
    parts += _days([one.day for one in stairs], step, floor + 66)
    keys, deep = _legend(
        [
            ("disc", f"middle level answered, {_FEWEST} reps or more"),
            ("hollow", "the same of fewer reps"),
            ("dash", "lowest and highest level used"),
            ("cross", "none answered"),
            ("bang", "strong sign"),
            ("bar", "share of reps with no button"),
        ],
        floor + 92,
        width,
    )
    words = " ".join(
        f"{one.day}: "
        + (f"levels {one.low} to {one.high}" if one.high is not None else "no level")
        + (f", answered {one.answered:g}" if one.answered is not None else "")
        + (f", strong sign at {', '.join(map(str, one.strong))}" if one.strong else "")
        + f", {one.reps - one.pressed} of {one.reps} reps with no level."
        for one in stairs
    )
    return width, floor + 92 + deep, parts + keys, words


def _calls(figure: Figure) -> Drawn:
    calls = figure.calls
    width, step = _room(len(calls))
    floor = _TOP + _HEIGHT

    def y(share: float) -> float:
        return floor - share * (_HEIGHT - 10)

    parts = [_text(8, _TOP - 10, "first call", "start")]
    for share in (0.0, 0.25, 0.5, 0.75, 1.0):
        parts += [_rule(y(share), width), _text(_LEFT - 12, y(share) + 4, f"{share:.0%}", "end")]
    if figure.mark is not None:
        parts.append(_line(_LEFT - 6, y(figure.mark), width - _RIGHT + 8, dash="7 4", thick=1.6))
        parts.append(
            _text(width - _RIGHT + 12, y(figure.mark) + 4, f"{figure.mark * 10:g} of 10", "start")
        )
    for place, one in enumerate(calls):
        x = _LEFT + step * (place + 0.5)
        parts.append(
            f'<path d="M{x:g} {y(one.low):g}V{y(one.high):g}" stroke="currentColor" '
            'stroke-width="1" stroke-opacity="0.65" fill="none"/>'
        )
        parts += [_dash(x, y(one.low)), _dash(x, y(one.high))]
        parts.append(_disc(x, y(one.share), one.of < _FEWEST))
    parts += _days([one.day for one in calls], step, floor + 20)
    keys, deep = _legend(
        [
            ("disc", f"share of first calls unaided, {_FEWEST} reps or more"),
            ("hollow", "the same of fewer reps"),
            ("dash", "95% interval"),
        ],
        floor + 46,
        width,
    )
    words = " ".join(f"{one.day}: {one.share:.0%} of {one.of}." for one in calls)
    return width, floor + 46 + deep, parts + keys, words


def _times(figure: Figure) -> Drawn:
    longest = max(max(one.longest for one in figure.curves), 1.0)
    width, wide = 520.0, 520.0 - _LEFT - _RIGHT - 30
    floor = _TOP + _HEIGHT

    def x(seconds: float) -> float:
        return _LEFT + seconds / longest * wide

    def y(share: float) -> float:
        return floor - share * (_HEIGHT - 10)

    parts = [_text(8, _TOP - 10, "not there yet", "start")]
    for share in (0.0, 0.25, 0.5, 0.75, 1.0):
        parts.append(_line(_LEFT - 6, y(share), _LEFT + wide, faint=True))
        parts.append(_text(_LEFT - 12, y(share) + 4, f"{share:.0%}", "end"))
    for seconds in _ticks(0, math.floor(longest)):
        parts.append(_text(x(seconds), floor + 18, f"{seconds:g}", "middle"))
    parts.append(_text(_LEFT + wide + 8, floor + 18, "seconds", "start"))
    ends: list[float] = []
    for number, one in enumerate(figure.curves):
        parts.append(
            _step_line(one, x, y, "" if number == 0 else "5 4", 2.2 if number == 0 else 1.6)
        )
        at = y(one.share[-1]) - 2
        while any(abs(at - other) < 15 for other in ends):
            at -= 15
        ends.append(at)
        end = x(one.longest)
        parts.append(_text(end + 8, at, f"{one.name} ({one.of} reps)", "start"))
    words = " ".join(
        f"{one.name}, {one.of} reps: "
        + ", ".join(f"{share:.0%} after {t:g} s" for t, share in _some(one))
        + "."
        for one in figure.curves
    )
    return width, floor + 36, parts, words


# --- pieces ----------------------------------------------------------------------------


def _room(columns: int) -> tuple[float, float]:
    """Width of the plot and of a column."""
    step = max(14.0, min(46.0, 640.0 / max(columns, 1)))
    return max(_LEFT + step * columns + _RIGHT, 430.0), step


def _ticks(low: int, high: int) -> list[int]:
    for every in (1, 2, 5, 10, 20, 50, 100, 200, 500):
        if (high - low) / every <= 8:
            return [n for n in range(low, high + 1) if n % every == 0 or n == low]
    return [low, high]


def _text(x: float, y: float, words: str, anchor: str, extra: str = "") -> str:
    return (
        f'<text x="{x:g}" y="{y:g}" text-anchor="{anchor}" fill="currentColor"{extra}>'
        f"{escape(words)}</text>"
    )


def _line(
    x: float, y: float, to: float, *, dash: str = "", thick: float = 1.0, faint: bool = False
) -> str:
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    pale = ' stroke-opacity="0.2"' if faint else ""
    return (
        f'<line x1="{x:g}" y1="{y:g}" x2="{to:g}" y2="{y:g}" stroke="currentColor" '
        f'stroke-width="{thick:g}"{dashes}{pale}/>'
    )


def _rule(y: float, width: float) -> str:
    return _line(_LEFT - 6, y, width - _RIGHT + 8, faint=True)


def _disc(x: float, y: float, hollow: bool) -> str:
    if hollow:
        return (
            f'<circle cx="{x:g}" cy="{y:g}" r="3.6" fill="var(--paper, #fff)" '
            'stroke="currentColor" stroke-width="1.4"/>'
        )
    return f'<circle cx="{x:g}" cy="{y:g}" r="5.2" fill="currentColor"/>'


def _dash(x: float, y: float) -> str:
    return f'<path d="M{x - 4:g} {y:g}h8" stroke="currentColor" stroke-width="1.3"/>'


def _cross(x: float, y: float) -> str:
    return (
        f'<path d="M{x - 4:g} {y - 4:g}l8 8m0 -8l-8 8" stroke="currentColor" '
        'stroke-width="1.8" fill="none"/>'
    )


def _bang(x: float, y: float) -> str:
    style = ' font-size="17" font-weight="bold" style="fill:var(--stop,currentColor)"'
    return _text(x + 7, y + 9, "!", "middle", style)


def _share_bar(x: float, y: float, step: float, one: SessionLevels) -> str:
    """A bar as tall as the share of reps without the button, in an outline of all."""
    wide, tall = min(12.0, step - 4), 26.0
    free = tall * (1 - one.pressed / one.reps) if one.reps else 0.0
    return (
        f'<rect x="{x - wide / 2:g}" y="{y:g}" width="{wide:g}" height="{tall:g}" fill="none" '
        'stroke="currentColor" stroke-width="0.8"/>'
        f'<rect x="{x - wide / 2:g}" y="{y + tall - free:g}" width="{wide:g}" height="{free:g}" '
        'fill="currentColor" fill-opacity="0.55"/>'
    )


def _days(days: Sequence[str], step: float, y: float) -> list[str]:
    """As many days as there is room for; the year once, at the first and the last."""
    every = max(1, math.ceil(62 / step))
    parts = []
    for place, day in enumerate(days):
        if place % every and place != len(days) - 1:
            continue
        if place == len(days) - 1 and place % every and place % every < every - 1:
            continue
        words = " ".join(day.split()[:2]) if len(day.split()) == 3 else "?"
        parts.append(_text(_LEFT + step * (place + 0.5), y, words, "middle", ' font-size="11"'))
    return parts


def _step_line(one: SurvivalCurve, x: _Scale, y: _Scale, dash: str, thick: float) -> str:
    path = f"M{x(0):g} {y(1):g}"
    for time, share in zip(one.times, one.share, strict=True):
        path += f"H{x(time):g}V{y(share):g}"
    path += f"H{x(one.longest):g}"
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    return f'<path d="{path}" fill="none" stroke="currentColor" stroke-width="{thick:g}"{dashes}/>'


def _some(one: SurvivalCurve) -> list[tuple[float, float]]:
    every = max(1, len(one.times) // 6)
    return list(zip(one.times, one.share, strict=True))[::every]


def _legend(items: Sequence[tuple[str, str]], top: float, width: float) -> tuple[list[str], float]:
    """The legend's elements from `top` on, and the height they take."""
    parts: list[str] = []
    x, y = 20.0, top
    for key, words in items:
        wide = 40 + 6.4 * len(words)
        if x > 20 and x + wide > width:
            x, y = 20.0, y + 22
        parts.append(_key(key, x, y))
        parts.append(_text(x + 14, y + 4, words, "start"))
        x += wide
    return parts, y - top + 18


def _key(key: str, x: float, y: float) -> str:
    match key:
        case "disc" | "hollow":
            return _disc(x, y, key == "hollow")
        case "dash":
            line = f'<path d="M{x:g} {y - 6:g}v12" stroke="currentColor" stroke-width="1.3"/>'
            return line + _dash(x, y - 6) + _dash(x, y + 6)
        case "cross":
            return _cross(x, y)
        case "bang":
            return _bang(x - 7, y - 3)
        case _:
            whole = SessionLevels(
                day="", low=None, high=None, answered=None, strong=(), reps=2, pressed=1
            )
            return _share_bar(x, y - 13, 14, whole)
