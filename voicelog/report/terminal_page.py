"""Lines with a margin, at most 80 cells wide: how every paper looks on a terminal.

Everything hangs off one margin on the left, which says what a line is about. Nothing is said
by colour alone.
"""

from __future__ import annotations

from collections.abc import Sequence

from rich.cells import cell_len, chop_cells

from voicelog.report.state_words import CHECK, VOID

__all__ = ["GAP", "WIDTH", "TerminalPage", "pad", "wrap"]

WIDTH = 80
"""Columns of the terminal."""

_LANE = 11
GAP = "  "
_COLOURS = {"STOP": "1;31", "CAUTION": "1;33", CHECK: "33", VOID: "2"}


class TerminalPage:
    """Lines with a margin."""

    def __init__(self, colour: bool) -> None:
        self.lines: list[str] = []
        self.colour = colour
        self.room = WIDTH - _LANE - len(GAP)

    def gap(self) -> None:
        if self.lines and self.lines[-1]:
            self.lines.append("")

    def taken(self, but: int = 0) -> list[str]:
        """The lines so far, which are held no longer; the last ones stay, so many as `but`."""
        end = max(0, len(self.lines) - but)
        lines, self.lines = self.lines[:end], self.lines[end:]
        return lines

    def raw(self, lane: str, line: str) -> None:
        """A line that already fits."""
        margin = lane.rjust(_LANE)
        code = _COLOURS.get(lane, "1" if lane else "")
        if self.colour and code:
            margin = margin.replace(lane, f"\x1b[{code}m{lane}\x1b[0m")
        self.lines.append(f"{margin}{GAP}{line}".rstrip())

    def put(self, lane: str, text: str) -> None:
        """Text in the room there is; nothing where there is none."""
        for number, line in enumerate(wrap(text, self.room) if text else ()):
            self.raw("" if number else lane, line)

    def put_hanging(self, lane: str, indent: str, text: str) -> None:
        """Text behind an indent; its further lines are indented a little more."""
        wide = self.room - len(indent)
        first, *more = wrap(text, wide)
        self.raw(lane, indent + first)
        for line in more and wrap(" ".join(more), wide - len(GAP)):
            self.raw("", f"{indent}{GAP}{line}")

    def table(self, rows: Sequence[tuple[str, Sequence[str]]]) -> None:
        """Rows of (margin, cells); columns shrink and wrap until they fit."""
        widths = _fit([cells for _, cells in rows], self.room)
        for lane, cells in rows:
            wrapped = [wrap(cell, width) for cell, width in zip(cells, widths, strict=True)]
            for row in range(max(map(len, wrapped))):
                parts = [
                    pad(lines[row] if row < len(lines) else "", width)
                    for lines, width in zip(wrapped, widths, strict=True)
                ]
                self.raw("" if row else lane, GAP.join(parts))


# --- cells -----------------------------------------------------------------------------


def pad(text: str, width: int) -> str:
    return text + " " * (width - cell_len(text))


def wrap(text: str, width: int) -> list[str]:
    """The text in lines of at most `width` cells; a word longer than a line is cut."""
    lines, used = [""], 0
    for word in text.split(" "):
        cells = cell_len(word)
        for piece in [word] if cells <= width else chop_cells(word, width):
            own = cells if piece is word else cell_len(piece)
            if not lines[-1]:
                lines[-1], used = piece, own
            elif used + 1 + own <= width:
                lines[-1], used = f"{lines[-1]} {piece}", used + 1 + own
            else:
                lines.append(piece)
                used = own
    return lines


def _fit(rows: Sequence[Sequence[str]], room: int) -> list[int]:
    """Column widths: as wide as the widest cell, then the widest column gives way."""
    widths = [max(1, *(cell_len(cell) for cell in column)) for column in zip(*rows, strict=True)]
    while sum(widths) + len(GAP) * (len(widths) - 1) > room:
        widths[widths.index(max(widths))] -= 1
    return widths
