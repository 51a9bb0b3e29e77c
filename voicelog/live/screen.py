"""What whoever can look sees: one calm page of 80 columns and at most 24 lines.

The page is made from a value by a pure function; drawing it is the terminal's business. It
says everything in words, so that nothing is lost without colour.
"""

from __future__ import annotations

import sys
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


def page(picture: ScreenContent) -> str:
    """The page: at most LINES lines of at most COLUMNS columns."""
    dog = clean(picture.dog) or NO_DOG_YET
    since = f"session {clock(picture.session_s)}" if picture.session_s is not None else ""
    lines = [
        _pair(f"voicelog listening {clock(picture.seconds)}", since),
        "",
        _pair(dog, "rep open" if picture.open else ""),
        f"level {picture.level or 'not said'}   ceiling {picture.ceiling or 'not set'}   "
        f"{picture.reps} {'rep' if picture.reps == 1 else 'reps'}, {picture.check} {TO_CHECK}",
        "",
        f"input {_bar(picture.peak_dbfs)}  {clean(picture.input)}",
    ]
    if picture.stop is not None:
        lines += ["", f"STOP: {clean(picture.stop)}  (say roger)"]
    if picture.question is not None:
        lines += ["", f'asked: "{clean(picture.question)}"  (say affirm, negative, or it again)']
    lines += [f"! {clean(trouble)}" for trouble in picture.troubles[-_TROUBLES:]]
    lines += ["", "said last"]
    shown = picture.entries[-_ENTRIES:]
    lines += [f"  {mark:<14} {clean(words)}" for mark, words in shown] or ["  nothing yet"]
    if picture.findings:
        lines += ["", "findings"]
        lines += [f"  {clean(finding)}" for finding in picture.findings[:_FINDINGS]]
    lines = [_fit(line) for line in lines]
    hint = _fit(clean(picture.hint))
    return "\n".join([*lines[: LINES - 2], hint])


def _pair(left: str, right: str) -> str:
    space = max(1, COLUMNS - cell_len(left) - cell_len(right))
    return left + " " * space + right if right else left


def _fit(line: str) -> str:
    return line if cell_len(line) <= COLUMNS else f"{set_cell_size(line, COLUMNS - 3)}..."


def _bar(dbfs: float | None) -> str:
    if dbfs is None:
        return f"[{'.' * _BAR}]  no sound"
    full = round(_BAR * min(1.0, max(0.0, 1 - dbfs / _FLOOR_DB)))
    return f"[{'#' * full}{'.' * (_BAR - full)}] {dbfs:4.0f} dBFS"


@dataclass(slots=True)
class Screen:
    """Draws pages on a terminal; elsewhere, or where asked to, it prints a line for each note."""

    plain: bool = False
    console: Console = field(default_factory=lambda: Console(file=unguarded(sys.stdout)))
    _live: Live | None = None

    def __enter__(self) -> Screen:
        if not self.plain and self.console.is_terminal:
            self._live = Live(
                console=self.console, auto_refresh=False, screen=True, vertical_overflow="crop"
            )
            self._live.__enter__()
        return self

    def __exit__(self, *gone: object) -> None:
        if self._live is not None:
            self._live.__exit__(None, None, None)
            self._live = None

    def show(self, picture: ScreenContent) -> None:
        """Draw the page anew."""
        if self._live is not None:
            self._live.update(Text(page(picture), no_wrap=True), refresh=True)

    def line(self, words: str) -> None:
        """A line for whoever reads a list instead of a page."""
        if self._live is None:
            print(clean(words), file=sys.stdout, flush=True)
