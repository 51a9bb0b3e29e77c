"""The sessions of the log for a command, with what counts nowhere named on the way."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from pathlib import Path
from time import monotonic
from typing import Any

import typer

from voicelog.app.open_log import open_log
from voicelog.app.session_catalog import DerivingProgress, SessionCatalog
from voicelog.app.session_choice import logged_dog
from voicelog.report.changes import changes_elsewhere
from voicelog.report.deriving_words import DERIVING, waiting_words
from voicelog.report.share_words import aside_lines, asides_in_short
from voicelog.report.words import clean, counted
from voicelog.store import Log
from voicelog.store.share.asides import asides

__all__ = ["changes_told", "opened_catalog", "refreshed_session_catalog", "warn_set_aside"]

_PATIENCE_S = 1.0
"""Seconds of deriving before a bar shows how far it is."""

WantedDogs = Callable[[SessionCatalog], Sequence[str] | None]
"""The dogs that a command is about, by what the log knew of them; None: all."""


@contextmanager
def opened_catalog(
    data_dir: Path | None,
    dog: str | None = None,
    wanted: WantedDogs | None = None,
    *,
    warn: bool = True,
) -> Iterator[SessionCatalog]:
    """The sessions of the log in the folder given, or in this user's own, while it is open.

    What was stale is worked out again: where only one `dog` is asked for, or the `wanted` ones,
    theirs alone, and it is said what waits. What is set aside is named on standard error, unless
    `warn` is off, for a command that does so later.
    """
    with open_log(data_dir) as log:
        yield refreshed_session_catalog(log, dog, wanted, warn=warn)


def refreshed_session_catalog(
    log: Log,
    dog: str | None = None,
    wanted: WantedDogs | None = None,
    *,
    warn: bool = True,
    tell: bool = False,
    new: bool = False,
) -> SessionCatalog:
    """The same for a log that is open. `tell`: say which findings of sessions that were there
    before are others now. `new`: it is about what has just come into the log, and its dogs."""
    catalog = SessionCatalog(log)
    names: Sequence[str] | None = None
    if dog is not None:
        name = logged_dog(catalog, dog)
        names = None if name is None else [name]
    elif wanted is not None:
        names = wanted(catalog)
    waiting = len(catalog.stale()) if new or names is not None else 0
    with _bar() as progress, catalog.noting() as noted:
        if new:
            names = catalog.refresh_new(progress)
        elif names is None:
            catalog.refresh(None, progress)
        elif waiting:
            catalog.refresh(names, progress)
            if dog is None and wanted is not None:
                names = _and_their_dogs(catalog, wanted, names, progress)
    for line in changes_elsewhere(noted) if tell else ():
        typer.echo(line)
    if names and waiting and (waiting := len(catalog.stale())):
        typer.echo(f"voicelog: {waiting_words(waiting, names)}", err=True)
    if warn:
        warn_set_aside(log)
    return catalog


def _and_their_dogs(
    catalog: SessionCatalog, wanted: WantedDogs, names: Sequence[str], progress: DerivingProgress
) -> Sequence[str]:
    """Derive more where what was new made others the `wanted` dogs; all that were."""
    while more := [one for one in wanted(catalog) or () if one not in names]:
        names = [*names, *more]
        catalog.refresh(names, progress)
    return names


@contextmanager
def _bar() -> Iterator[DerivingProgress]:
    """Shows on the terminal how far that is, once it takes long and where someone sees it."""
    began = monotonic()
    with ExitStack() as shown:
        bar: Any = None

        def show(number: int, total: int) -> None:
            nonlocal bar
            if bar is None and sys.stderr.isatty() and monotonic() - began > _PATIENCE_S:
                # It loads what draws, which few commands need.
                from voicelog.cli.hearing_bar import HearingBar

                bar = shown.enter_context(HearingBar().shown())
                bar.begin(DERIVING, beside="")
            if bar is not None:
                bar.done_so_far(number, total)

        yield show


@contextmanager
def changes_told(catalog: SessionCatalog) -> Iterator[None]:
    """Say at the end which findings changed meanwhile in sessions that were there before."""
    with catalog.noting() as noted:
        yield
    for line in changes_elsewhere(noted):
        typer.echo(line)


def warn_set_aside(log: Log) -> None:
    """Name the recordings that count nowhere, in one line on standard error; likewise what came
    through a share and is set aside."""
    if shared := asides(log):
        lines = list(aside_lines(shared, 0)) if len(shared) == 1 else [asides_in_short(shared)]
        typer.echo(f"voicelog: {lines[0]}", err=True)
    found = list(log.asides().values())
    if len(found) == 1:
        typer.echo(f"voicelog: {clean(str(found[0]))}", err=True)
    elif found:
        names = clean(", ".join(error.name for error in found))
        typer.echo(
            f"voicelog: {counted(len(found), 'recording')} set aside, not counted ({names}); "
            "'voicelog check' says why.",
            err=True,
        )
