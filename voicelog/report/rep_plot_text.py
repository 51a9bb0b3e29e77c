"""The plot in characters, for a terminal and for Markdown: level over rep number.

Each rep is a column: its mark at its highest level, "!" beside it for stress, on the row of the
press that it stands for, brackets around one to check, "|" down through the levels it passed.
"""

from __future__ import annotations

from collections.abc import Sequence

from voicelog.report.plot_marks import GLYPHS, drawn, lanes, legend
from voicelog.report.state_words import CHECK
from voicelog.report.summary_rows import PlotRow, SummaryRow

__all__ = ["draw"]

_LABEL = 9
_ALL_LEVELS = 6
"""Up to this level every level has a row; above it only the levels used."""

_KEYS = {**GLYPHS, "stress": "!", CHECK: "( )", "trace": "|"}


def draw(reps: Sequence[SummaryRow], width: int) -> list[str]:
    """Lines of at most `width` cells; empty when there is nothing to draw. `reps` are in their
    order."""
    shown = drawn(reps)
    if not shown:
        return []
    widest = max(len(_mark(rep)) for rep in shown)
    cell = max(3, widest, len(str(max(rep.number for rep in shown))) + 1)
    per_panel = max(1, (width - _LABEL - 1) // cell)
    lines: list[str] = []
    for first in range(0, len(shown), per_panel):
        lines += [*_panel(shown[first : first + per_panel], cell), ""]
    return lines + _legend(reps, width)


def _panel(reps: Sequence[SummaryRow], cell: int) -> list[str]:
    def row(label: str, cells: Sequence[str]) -> str:
        return f"{label:>{_LABEL}} {''.join(_centred(text, cell) for text in cells)}".rstrip()

    levels = sorted(_levels(reps), reverse=True)
    lines = []
    for number, level in enumerate(levels):
        label = str(level) if number else f"level {level:>3}"
        lines.append(row(label, [_at_level(rep, level) for rep in reps]))
    for lane in lanes(reps):
        lines.append(row(lane, [_in_lane(rep, lane) for rep in reps]))
    return [*lines, row("rep", [str(rep.number) for rep in reps])]


def _levels(reps: Sequence[SummaryRow]) -> set[int]:
    used = {level for rep in reps for level in rep.levels}
    if used and max(used) <= _ALL_LEVELS:
        used |= set(range(1, max(used)))
    return used


def _at_level(rep: SummaryRow, level: int) -> str:
    if rep.peak is None:
        return ""
    if level == rep.peak:
        return _mark(rep)
    return "|" if min(rep.levels) <= level < rep.peak else ""


def _in_lane(rep: SummaryRow, lane: PlotRow) -> str:
    return _mark(rep) if rep.lane == lane else "."


def _mark(rep: SummaryRow) -> str:
    glyph = GLYPHS[rep.shape]
    mark = f"({glyph})" if rep.word == CHECK else glyph
    return f"{mark}!" if rep.stress else mark


def _centred(text: str, cell: int) -> str:
    """In a cell with its shape in the middle, whatever stands beside that."""
    if not text.endswith("!"):
        return f"{text:^{cell}}"
    shape = text.removesuffix("!")
    before = (cell - 1) // 2 - (len(shape) - 1) // 2
    return f"{' ' * before}{text}".ljust(cell)


def _legend(reps: Sequence[SummaryRow], width: int) -> list[str]:
    """Legend items side by side, as many to a line as fit."""
    lines = [""]
    for item in (f"{_KEYS[key]} {words}" for key, words in legend(reps)):
        joined = f"{lines[-1]}   {item}" if lines[-1] else item
        if len(joined) > width:
            lines.append(item)
        else:
            lines[-1] = joined
    return lines
