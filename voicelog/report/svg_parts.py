"""The pieces that the pictures over weeks are put together of: text, lines, marks, legends, links.

Everything is drawn in the ink of its page (`currentColor`), so that it reads on paper, in grey and
in the dark. Shape and words carry the meaning; the one colour, on the class `stress`, repeats a
"!". Nothing is styled inline, since the review page's policy forbids that.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape
from typing import NamedTuple

from voicelog.report.paper import Lane
from voicelog.report.time_axis import TimeAxis

__all__ = [
    "LANES",
    "LEFT",
    "NARROW",
    "RIGHT",
    "WIDE",
    "LegendItem",
    "Picture",
    "axis_parts",
    "band",
    "disc",
    "lane_mark",
    "legend_parts",
    "line",
    "path",
    "rect",
    "ring",
    "svg",
    "text",
]

WIDE, NARROW = 660.0, 336.0
"""Widths of the pictures, px: for a screen or a sheet of A4, and for a telephone."""

LEFT, RIGHT = 86.0, 22.0
"""Room beside a time axis for the names of panels and lanes, and for the last label, px."""

_CHARACTER = 6.6
"""A character's mean width in a legend, px."""

LANES: tuple[Lane, ...] = ("strong sign", "stop", "open matter")
"""What a session can have beside its numbers, in order."""


class Picture(NamedTuple):
    """A picture to be wrapped: size (px), its elements, and what it shows in words."""

    width: float
    height: float
    parts: Sequence[str]
    words: str


class LegendItem(NamedTuple):
    """The elements of a mark drawn around 0, 0, and its words."""

    mark: Sequence[str]
    words: str


def svg(picture: Picture, title: str, ident: str, *, linked: bool) -> str:
    """The <svg> element of a `picture`. `ident` makes its ids unique in a page, `title` names it;
    with `linked` parts in it can be reached with the keyboard."""
    names = f"{ident}-title {ident}-words"
    return "\n".join(
        (
            f'<svg xmlns="http://www.w3.org/2000/svg" role="{"group" if linked else "img"}" '
            f'width="{picture.width:g}" height="{picture.height:g}" '
            f'viewBox="0 0 {picture.width:g} {picture.height:g}" aria-labelledby="{names}" '
            'font-family="system-ui, sans-serif" font-size="12">',
            f'<title id="{ident}-title">{escape(title)}</title>',
            f'<desc id="{ident}-words">{escape(picture.words)}</desc>',
            *picture.parts,
            "</svg>",
        )
    )


def text(
    x: float, y: float, words: str, anchor: str = "start", *, size: float = 12, bold: bool = False
) -> str:
    """The `words` at `x`, `y` (px), in a `size` (px), `bold` or not; `anchor` is start, middle or
    end."""
    weight = ' font-weight="600"' if bold else ""
    large = "" if size == 12 else f' font-size="{size:g}"'
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}"{large}{weight} '
        f'fill="currentColor">{escape(words)}</text>'
    )


def line(
    x: float,
    y: float,
    to_x: float,
    to_y: float,
    *,
    thick: float = 1.0,
    pale: float = 1.0,
    dash: str = "",
) -> str:
    """A line from `x`, `y` to `to_x`, `to_y` (px), so `thick` (px); `pale` is its opacity, 0 to 1,
    `dash` the lengths of dashes and gaps (px)."""
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    fades = f' stroke-opacity="{pale:g}"' if pale < 1 else ""
    return (
        f'<path d="M{x:.1f} {y:.1f}L{to_x:.1f} {to_y:.1f}" stroke="currentColor" '
        f'stroke-width="{thick:g}" fill="none"{dashes}{fades}/>'
    )


def path(
    shape: str, *, filled: bool = False, thick: float = 1.6, pale: float = 1.0, dash: str = ""
) -> str:
    """A path of the `shape` (SVG's path data), `filled`, or in an outline so `thick` (px) with a
    `dash` (px); `pale` is its opacity, 0 to 1."""
    fades = f' opacity="{pale:g}"' if pale < 1 else ""
    if filled:
        return f'<path d="{shape}" fill="currentColor"{fades}/>'
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<path d="{shape}" fill="none" stroke="currentColor" stroke-width="{thick:g}"'
        f"{dashes}{fades}/>"
    )


def rect(
    x: float, y: float, wide: float, high: float, *, filled: bool = False, pale: float = 1.0
) -> str:
    """A rectangle from `x`, `y`, so `wide` and `high` (px), `filled` or in outline; `pale` is its
    opacity, 0 to 1."""
    ink = (
        'fill="currentColor"' if filled else 'fill="none" stroke="currentColor" stroke-width="1.2"'
    )
    fades = f' opacity="{pale:g}"' if pale < 1 else ""
    size = f'width="{wide:.1f}" height="{max(high, 0):.1f}"'
    return f'<rect x="{x:.1f}" y="{y:.1f}" {size} {ink}{fades}/>'


def disc(x: float, y: float, radius: float) -> str:
    """A filled disc of a `radius` around `x`, `y` (px)."""
    return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{radius:g}" fill="currentColor"/>'


def ring(x: float, y: float, radius: float) -> str:
    """An open ring of a `radius` around `x`, `y` (px) that hides what lies under it."""
    return (
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{radius:g}" fill="var(--paper, #fff)" '
        'stroke="currentColor" stroke-width="1.8"/>'
    )


def lane_mark(lane: Lane, x: float, y: float) -> str:
    """The mark of a `lane`, centred at `x`, `y` (px): "!", a stop sign with its bar, a
    flag on its pole."""
    match lane:
        case "strong sign":
            return (
                f'<text x="{x:.1f}" y="{y + 6:.1f}" text-anchor="middle" font-size="17" '
                'font-weight="bold" fill="currentColor" class="stress">!</text>'
            )
        case "stop":
            corners = f"M{x - 2.6:.1f} {y - 6:.1f}h5.2l3.4 3.4v5.2l-3.4 3.4h-5.2l-3.4 -3.4v-5.2z"
            bar = f"M{x - 3.4:.1f} {y - 1.2:.1f}h6.8v2.4h-6.8z"
            return f'<path d="{corners}{bar}" fill="currentColor" fill-rule="evenodd"/>'
        case "open matter":
            return path(f"M{x - 3.5:.1f} {y + 7:.1f}v-14h1.6l7 4l-7 4v6z", filled=True)


def band(x: float, y: float, wide: float, high: float, words: str, href: str | None) -> str:
    """The column of a session, from `x`, `y`, so `wide` and `high` (px): its `words` for who points
    at it, and the way to it. Without `href` it is no link."""
    inner = (
        f"<title>{escape(words)}</title>"
        f'<rect class="band" x="{x:.1f}" y="{y:.1f}" width="{wide:.1f}" height="{high:.1f}" '
        'fill="currentColor" fill-opacity="0"/>'
    )
    if href is None:
        return f"<g>{inner}</g>"
    return f'<a href="{escape(href)}" aria-label="{escape(words)}">{inner}</a>'


def axis_parts(axis: TimeAxis, top: float, floor: float) -> list[str]:
    """The ticks of a time axis: pale lines from `top` to `floor`, days under them, then years."""
    parts = [line(axis.left, floor, axis.right, floor, pale=0.6)]
    for tick in axis.ticks:
        parts.append(line(tick.x, top, tick.x, floor, pale=0.13))
        parts.append(line(tick.x, floor, tick.x, floor + 5))
        parts.append(text(tick.x, floor + 17, tick.label, "middle", size=11))
    parts += [text(one.x, floor + 31, one.label, "middle", size=11) for one in axis.years]
    return parts


def legend_parts(items: Iterable[LegendItem], top: float, width: float) -> tuple[list[str], float]:
    """The elements of a legend of `items` from `top` on (px) in a picture of this `width` (px), and
    the height they take (px)."""
    parts: list[str] = []
    x, y, drawn = 14.0, top, False
    for mark, words in items:
        wide = 34 + _CHARACTER * len(words)
        if x > 14 and x + wide > width:
            x, y = 14.0, y + 20
        parts.append(f'<g transform="translate({x:.1f} {y:.1f})">{"".join(mark)}</g>')
        parts.append(text(x + 15, y + 4, words))
        x += wide
        drawn = True
    return parts, y - top + 16 if drawn else 0.0
