"""What whoever can look sees: one calm page of 80 columns and at most 24 lines.

The page is made from a value by a pure function; drawing it is the terminal's business. It
says everything in words, so that nothing is lost without colour.
"""

from __future__ import annotations

import sys
from contextlib import suppress
from dataclasses import dataclass, field

from rich.cells import cell_len, set_cell_size
from rich.console import Console
from rich.live import Live
from rich.text import Text

from voicelog.report.plain_stream import unguarded
from voicelog.report.screen_words import HINT, NO_DOG_YET
from voicelog.report.state_words import TO_CHECK
from voicelog.report.words import clean, clock

__all__ = ["COLUMNS", "LINES", "Screen", "ScreenContent", "page"]

COLUMNS, LINES = 80, 24
_ENTRIES, _FINDINGS, _TROUBLES = 7, 4, 3
_BAR = 20
_FLOOR_DB = -60.0


@dataclass(frozen=True, slots=True)
class ScreenContent:
    """All that the page shows. `entries` are (mark, words), oldest first."""

    dog: str = ""
    seconds: float = 0.0
    session_s: float | None = None
    level: str = ""
    ceiling: str = ""
    reps: int = 0
    check: int = 0
    open: bool = False
    peak_dbfs: float | None = None
    input: str = ""
    entries: tuple[tuple[str, str], ...] = ()
    findings: tuple[str, ...] = ()
    troubles: tuple[str, ...] = ()
    question: str | None = None
    stop: str | None = None
    hint: str = HINT


def page(picture: ScreenContent, columns: int = COLUMNS, rows: int = LINES) -> str:
    """The page: at most `rows` lines of at most `columns` columns, and never more than LINES of
    COLUMNS. Where there is less room, a stop, a question and what is wrong stay, and a sentence of
    those is broken rather than cut; of what was said last there are fewer lines."""
    columns, most = min(columns, COLUMNS), min(rows, LINES)
    dog = clean(picture.dog) or NO_DOG_YET
    since = f"session {clock(picture.session_s)}" if picture.session_s is not None else ""
    lines = [
        _pair(f"voicelog listening {clock(picture.seconds)}", since, columns),
        "",
        _pair(dog, "rep open" if picture.open else "", columns),
        f"level {picture.level or 'not said'}   ceiling {picture.ceiling or 'not set'}   "
        f"{picture.reps} {'rep' if picture.reps == 1 else 'reps'}, {picture.check} {TO_CHECK}",
        "",
        f"input {_bar(picture.peak_dbfs)}  {clean(picture.input)}",
    ]
    if picture.stop is not None:
        lines += ["", *_broken(f"STOP: {clean(picture.stop)}  (say roger)", columns)]
    if picture.question is not None:
        asked = f'asked: "{clean(picture.question)}"  (say affirm, negative, or it again)'
        lines += ["", *_broken(asked, columns)]
    for trouble in picture.troubles[-_TROUBLES:]:
        lines += _broken(f"! {clean(trouble)}", columns)
    lines += ["", "said last"]
    shown = picture.entries[-_ENTRIES:]
    lines += [f"  {mark:<14} {clean(words)}" for mark, words in shown] or ["  nothing yet"]
    if picture.findings:
        lines += ["", "findings"]
        lines += [f"  {clean(finding)}" for finding in picture.findings[:_FINDINGS]]
    lines = [_fit(line, columns) for line in lines]
    hint = _fit(clean(picture.hint), columns)
    return "\n".join([*lines[: most - 2], hint])


def _pair(left: str, right: str, columns: int) -> str:
    space = max(1, columns - cell_len(left) - cell_len(right))
    return left + " " * space + right if right else left


def _fit(line: str, columns: int) -> str:
    return line if cell_len(line) <= columns else f"{set_cell_size(line, columns - 3)}..."


def _broken(line: str, columns: int) -> list[str]:
    """A sentence on a narrow screen: two lines, where one would be cut."""
    if columns == COLUMNS or cell_len(line) <= columns:
        return [line]
    at = line.rfind(" ", 1, columns)
    return [line[:at], f"  {line[at + 1 :]}"] if at > 1 else [line]


def _bar(dbfs: float | None) -> str:
    if dbfs is None:
        return f"[{'.' * _BAR}]  no sound"
    full = round(_BAR * min(1.0, max(0.0, 1 - dbfs / _FLOOR_DB)))
    return f"[{'#' * full}{'.' * (_BAR - full)}] {dbfs:4.0f} dBFS"


@dataclass(slots=True)
class Screen:
    """Draws pages on a terminal; elsewhere, or where asked to, it prints a line for each note.

    A terminal that was closed, or a file that takes no more, ends neither the session nor this:
    nothing is shown any more.
    """

    plain: bool = False
    console: Console = field(default_factory=lambda: Console(file=unguarded(sys.stdout)))
    _live: Live | None = None
    _gone: bool = False

    def __enter__(self) -> Screen:
        if not self.plain and self.console.is_terminal:
            self._live = Live(
                console=self.console, auto_refresh=False, screen=True, vertical_overflow="crop"
            )
            self._live.__enter__()
        return self

    def __exit__(self, *gone: object) -> None:
        if self._live is not None:
            with suppress(OSError):  # a terminal that was closed
                self._live.__exit__(None, None, None)
            self._live = None

    def show(self, picture: ScreenContent) -> None:
        """Draw the page anew."""
        if self._live is None or self._gone:
            return
        try:
            size = self.console.size
            shown = page(picture, size.width, size.height)
            self._live.update(Text(shown, no_wrap=True), refresh=True)
        except OSError:
            self._gone = True

    def line(self, words: str) -> None:
        """A line for whoever reads a list instead of a page."""
        if self._live is None and not self._gone:
            try:
                print(clean(words), file=sys.stdout, flush=True)
            except OSError:
                self._gone = True
