"""How far a long work has come: a bar on the terminal, by seconds heard or recordings done.

It stands on standard error and only where that is a terminal, so nothing of it gets into a paper or
a file, and it is gone before a result is printed.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from functools import partial
from typing import Self, TypeVar

import typer
from rich.console import Console
from rich.progress import BarColumn, Progress, SpinnerColumn, TextColumn, TimeRemainingColumn

from voicelog.app.heard_elsewhere import HearingOutcome, HearingTask
from voicelog.app.hearing_workers import HearingWorkers, heard_by
from voicelog.app.parallel import for_each
from voicelog.model import VoicelogError
from voicelog.report.hearing_words import LOADING, done_words, heard_words
from voicelog.report.plain_stream import unguarded
from voicelog.report.words import clean

__all__ = ["HearingBar", "hear_each", "hear_elsewhere"]

Item = TypeVar("Item")
Result = TypeVar("Result")


class HearingBar:
    """One bar after the other. Where standard error is no terminal it shows nothing.

    Args:
        console: where it is drawn; by default the terminal behind standard error.
    """

    def __init__(self, console: Console | None = None) -> None:
        self._console = console or Console(file=unguarded(sys.stderr))
        self._progress: Progress | None = None

    def begin(self, title: str, beside: str = LOADING) -> None:
        """Show that something is begun, and `beside` the bar what is done first."""
        if not self._console.is_terminal:
            return
        self.end()
        self._progress = Progress(
            SpinnerColumn(),
            TextColumn("{task.description}", markup=False),
            BarColumn(bar_width=24),
            TextColumn("{task.fields[beside]}", markup=False),
            TimeRemainingColumn(),
            console=self._console,
            transient=True,
        )
        self._progress.add_task(title, total=None, beside=beside)
        self._progress.start()

    def heard_so_far(self, done_s: float, total_s: float | None) -> None:
        """Move it: `done_s` seconds of sound are heard, of `total_s` (None: not known)."""
        self._move(done_s, total_s, heard_words(done_s, total_s))

    def done_so_far(self, done: int, total: int) -> None:
        """Move it: `done` of `total` recordings are done."""
        self._move(done, total, done_words(done, total))

    def _move(self, done: float, total: float | None, beside: str) -> None:
        if self._progress is not None:
            (task,) = self._progress.task_ids
            self._progress.update(task, completed=done, total=total, beside=beside)

    def end(self) -> None:
        """Take it away."""
        if self._progress is not None:
            self._progress.stop()
            self._progress = None

    @contextmanager
    def shown(self) -> Iterator[Self]:
        """It goes away in the end, whatever happens meanwhile."""
        try:
            yield self
        finally:
            self.end()


def hear_each(
    items: Sequence[Item],
    work: Callable[[Item], Result],
    jobs: int,
    bar: HearingBar,
    name: Callable[[Item], str],
) -> Iterator[tuple[Item, Result | VoicelogError]]:
    """`for_each` with a bar of the one at work, or with several at work a line for each done.

    Args:
        items: what is to be heard.
        work: what is done with each; with one job it may tell `bar` how far it is.
        jobs: how many at the same time.
        bar: where the progress of one job is shown.
        name: what one of the items is called.
    """

    if jobs != 1:
        yield from for_each(items, work, jobs, partial(_print_done, name))
        return
    with bar.shown():
        for found in for_each(items, work, 1, lambda *begun: bar.begin(_told(name, *begun))):
            bar.end()
            yield found


def hear_elsewhere(
    workers: HearingWorkers,
    items: Sequence[Item],
    task: Callable[[Item], HearingTask | None],
    finish: Callable[[Item, HearingOutcome | None], Result],
    name: Callable[[Item], str],
) -> Iterator[tuple[Item, Result | VoicelogError]]:
    """`heard_by` with a line for each that is heard.

    Args:
        workers: who hears.
        items: what is to be heard.
        task: what is to be heard of one.
        finish: takes in what came of it.
        name: what one of the items is called.
    """
    return heard_by(workers, items, task, finish, partial(_print_done, name))


def _told(name: Callable[[Item], str], number: int, total: int, item: Item) -> str:
    return clean(name(item)) if total == 1 else f"{number} of {total}: {clean(name(item))}"


def _print_done(name: Callable[[Item], str], number: int, total: int, item: Item) -> None:
    if sys.stderr.isatty() and total > 1:
        typer.echo(_told(name, number, total, item), err=True)
