"""The plot as SVG: level over rep number, one mark a rep, drawn in the ink of its page.

It uses no colour of its own but for the stress mark, so it reads the same in print, in
grey and on a dark page. It carries its own legend, and says every rep in words for who
cannot see it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from html import escape

from voicelog.report.plot_marks import describe, drawn, lanes, legend
from voicelog.report.state_words import CHECK
from voicelog.report.summary import Summary
from voicelog.report.summary_rows import SummaryRow

__all__ = ["plot_svg"]

_LEFT, _RIGHT, _TOP = 78, 18, 30
_PITCH, _ROW = 27, 25
_TARGET = 44
"""Side (px) of what can be touched of a mark that is a link, and the pitch of such marks."""
_TALLEST = 300
_WIDEST_LEGEND = 360
_R = 7

Point = Callable[[int], float]


def plot_svg(summary: Summary, ident: str = "plot", links: Mapping[int, str] | None = None) -> str:
    """An <svg> element; empty when there is nothing to draw. `summary` holds the reps.

    Args:
        ident: makes the ids of title and description unique in a page.
        links: where the mark of each rep number leads; with them each column tells its time,
            and nothing is styled inline, since a page with links has a style of its own.
    """
    reps = drawn(summary.reps)
    if not reps:
        return ""
    pitch = _PITCH if links is None else _TARGET
    wide = _width(reps, pitch)
    levels = [level for rep in reps for level in rep.levels]
    low, high = (min(1, *levels), max(levels)) if levels else (0, -1)
    step = min(_ROW, _TALLEST / max(1, high - low))
    rows = lanes(reps)
    floor = _TOP + (high - low) * step if levels else _TOP - _ROW
    lane_y = {lane: floor + _ROW * (number + 1.2) for number, lane in enumerate(rows)}
    bottom = max([floor, *lane_y.values()]) + _ROW
    below = bottom + (15 if links is not None else 0)
    keys, legend_height = _legend(legend(reps), below + 34, max(wide, 330))
    width, height = max(wide, 330), below + 30 + legend_height

    def level_y(level: int) -> float:
        return floor - (level - low) * step

    ticks = _ticks(low, high, step) if levels else []
    parts = [_tick(level_y(tick), str(tick), wide) for tick in ticks]
    parts += [_tick(y, lane, wide, dotted=True) for lane, y in lane_y.items()]
    if levels:
        parts.append(_text(8, level_y(high) + 4, "level", "start"))
    parts.append(_text(_LEFT - 16, bottom + 4, "rep", "end"))
    for column, rep in enumerate(reps):
        x = _LEFT + pitch * column + pitch / 2
        y = level_y(rep.peak) if rep.peak is not None else lane_y[rep.lane]
        parts.append(_text(x, bottom + 4, str(rep.number), "middle"))
        mark = _rep(rep, x, y, level_y)
        if links is not None:
            parts.append(_text(x, bottom + 19, rep.at, "middle", ' font-size="9"'))
            mark = _linked(mark, rep, x, y, links.get(rep.number))
        parts.append(mark)
    title, words = f"{ident}-title", f"{ident}-words"
    inline = f'style="min-width:{0.85 * width:g}px" ' if links is None else ""
    return "\n".join(
        (
            f'<svg xmlns="http://www.w3.org/2000/svg" role="{"img" if links is None else "group"}" '
            f'width="{width:g}" {inline}'
            f'height="{height:g}" viewBox="0 0 {width:g} {height:g}" '
            f'aria-labelledby="{title} {words}" font-family="sans-serif" font-size="12">',
            f'<title id="{title}">Level over rep number, {escape(summary.dog)}</title>',
            f'<desc id="{words}">{escape(" ".join(map(describe, reps)))}</desc>',
            *parts,
            *keys,
            "</svg>",
        )
    )


def _width(reps: Sequence[SummaryRow], pitch: float) -> float:
    return _LEFT + pitch * len(reps) + _RIGHT


def _ticks(low: int, high: int, step: float) -> list[int]:
    """Levels to label: every one, or every 2nd, 5th, 10th ... so that they do not touch."""
    for every in (1, 2, 5, 10, 20, 50, 100, 200):
        if every * step >= 18:
            return [level for level in range(low, high + 1) if level % every == 0 or level == high]
    return [low, high]


def _tick(y: float, label: str, width: float, *, dotted: bool = False) -> str:
    dash = ' stroke-dasharray="1 5"' if dotted else ""
    return (
        f'<line x1="{_LEFT - 8}" y1="{y:g}" x2="{width - _RIGHT + 6:g}" y2="{y:g}" '
        f'stroke="currentColor" stroke-opacity="{0.55 if dotted else 0.18}"{dash}/>'
        + _text(_LEFT - 16, y + 4, label, "end")
    )


def _text(x: float, y: float, words: str, anchor: str, extra: str = "") -> str:
    return (
        f'<text x="{x:g}" y="{y:g}" text-anchor="{anchor}" fill="currentColor"{extra}>'
        f"{escape(words)}</text>"
    )


def _rep(rep: SummaryRow, x: float, y: float, level_y: Point) -> str:
    parts = []
    if len(set(rep.levels)) > 1:
        parts.append(_trace(x, y, [level_y(level) for level in set(rep.levels)]))
    parts.append(_mark(rep.shape, x, y))
    if rep.word == CHECK:
        parts.append(_mark(CHECK, x, y))
    if rep.stress:
        parts.append(_mark("stress", x, y - 12))
    return "".join(parts)


def _linked(mark: str, rep: SummaryRow, x: float, y: float, href: str | None) -> str:
    if href is None:
        return mark
    half = _TARGET / 2
    hit = (
        f'<rect x="{x - half:g}" y="{y - half:g}" width="{_TARGET}" height="{_TARGET}" '
        'fill-opacity="0"/>'
    )
    return f'<a href="{escape(href)}" aria-label="{escape(describe(rep))}">{hit}{mark}</a>'


def _trace(x: float, y: float, heights: Sequence[float]) -> str:
    passed = "".join(f"M{x - 4:g} {height:g}h8" for height in heights if height != y)
    return (
        f'<path d="M{x:g} {y + _R:g}V{max(heights):g}{passed}" fill="none" '
        'stroke="currentColor" stroke-width="1.2"/>'
    )


def _mark(key: str, x: float, y: float) -> str:
    """One mark of the plot or of its legend, centred on x, y."""
    ink = 'fill="none" stroke="currentColor" stroke-width="2"'
    full = 'fill="currentColor"'
    diamond = f"M{x:g} {y - 8:g}l8 8l-8 8l-8 -8z"
    match key:
        case "complied":
            return f'<circle cx="{x:g}" cy="{y:g}" r="{_R}" {full}/>'
        case "part":
            half = f'<path d="M{x:g} {y - _R:g}a{_R} {_R} 0 0 0 0 {2 * _R}z" {full}/>'
            return f'{half}<circle cx="{x:g}" cy="{y:g}" r="{_R - 1}" {ink}/>'
        case "ignored":
            return f'<circle cx="{x:g}" cy="{y:g}" r="{_R - 1}" {ink}/>'
        case "helped":
            return f'<rect x="{x - 6:g}" y="{y - 6:g}" width="12" height="12" {full}/>'
        case "left":
            return f'<path d="M{x - 6:g} {y + 7:g}l12 -14" {ink}/>'
        case "broke":
            return f'<path d="M{x - 6:g} {y + 6:g}l12 -12m-12 0l12 12" {ink}/>'
        case "noticed":
            return f'<path d="{diamond}" {full}/>'
        case "nothing":
            return f'<path d="{diamond}" {ink}/>'
        case "check":
            return (
                f'<circle cx="{x:g}" cy="{y:g}" r="11.5" fill="none" stroke="currentColor" '
                'stroke-width="1.4" stroke-dasharray="3.5 3"/>'
            )
        case "stress":
            style = ' font-size="17" font-weight="bold" class="stress"'
            return _text(x, y, "!", "middle", style)
        case "trace":
            return _trace(x, y - 12, [y - 5, y + 8])
        case _:
            return _text(x, y + 5, "?", "middle", ' font-size="15" font-weight="bold"')


def _legend(items: Sequence[tuple[str, str]], top: float, width: float) -> tuple[list[str], float]:
    """The legend's elements from `top` on, and the height they take."""
    parts: list[str] = []
    x, y = 20.0, top
    for key, words in items:
        wide = 46 + 6.3 * len(words)
        if x > 20 and x + wide > min(width, _WIDEST_LEGEND):
            x, y = 20.0, y + _ROW
        parts.append(_mark(key, x, y + (6 if key == "stress" else 0)))
        parts.append(_text(x + 18, y + 4, words, "start"))
        x += wide
    return parts, y - top + _ROW
