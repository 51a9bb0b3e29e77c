"""How far the hearing of files has come: a bar on the terminal, by seconds of sound heard.

It stands on standard error and only where that is a terminal, so nothing of it gets into a paper or
a file, and it is gone before a result is printed.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TypeVar

from rich.console import Console
from rich.progress import BarColumn, Progress, SpinnerColumn, TextColumn, TimeRemainingColumn

from voicelog.app.parallel import for_each
from voicelog.model import VoicelogError
from voicelog.report.hearing_words import LOADING, heard_words
from voicelog.report.plain_stream import unguarded
from voicelog.report.words import clean

__all__ = ["HearingBar", "hear_each"]

Result = TypeVar("Result")


class HearingBar:
    """The bar of one file after the other. Where standard error is no terminal it shows nothing.

    Args:
        console: where it is drawn; by default the terminal behind standard error.
    """

    def __init__(self, console: Console | None = None) -> None:
        self._console = console or Console(file=unguarded(sys.stderr))
        self._progress: Progress | None = None

    def begin(self, number: int, total: int, path: Path) -> None:
        """Show that a file, the `number`th of `total`, is come to."""
        if not self._console.is_terminal:
            return
        self.end()
        self._progress = Progress(
            SpinnerColumn(),
            TextColumn("{task.description}", markup=False),
            BarColumn(bar_width=24),
            TextColumn("{task.fields[heard]}", markup=False),
            TimeRemainingColumn(),
            console=self._console,
            transient=True,
        )
        name = clean(path.name) if total == 1 else f"{number} of {total}: {clean(path.name)}"
        self._progress.add_task(name, total=None, heard=LOADING)
        self._progress.start()

    def heard_so_far(self, done_s: float, total_s: float | None) -> None:
        """Move it: `done_s` seconds of sound are heard, of `total_s` (None: not known)."""
        if self._progress is not None:
            (task,) = self._progress.task_ids
            words = heard_words(done_s, total_s)
            self._progress.update(task, completed=done_s, total=total_s, heard=words)

    def end(self) -> None:
        """Take it away."""
        if self._progress is not None:
            self._progress.stop()
            self._progress = None

    @contextmanager
    def shown(self) -> Iterator[HearingBar]:
        """It goes away in the end, whatever happens meanwhile."""
        try:
            yield self
        finally:
            self.end()


def hear_each(
    paths: Sequence[Path],
    work: Callable[[Path], Result],
    jobs: int,
    bar: HearingBar,
    named: Callable[[int, int, Path], None],
) -> Iterator[tuple[Path, Result | VoicelogError]]:
    """`for_each` with a bar of the file at work, or with several at work a line for each done.

    Args:
        paths: the files.
        work: what is done with each; with one job it may tell `bar` how far it is.
        jobs: how many at the same time.
        bar: where the progress of one job is shown.
        named: tells of each file that is done where several are at work.
    """
    if jobs != 1:
        yield from for_each(paths, work, jobs, named)
        return
    with bar.shown():
        for found in for_each(paths, work, 1, bar.begin):
            bar.end()
            yield found
