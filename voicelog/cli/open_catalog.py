"""The sessions of the log for a command, with what counts nowhere named on the way."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from time import monotonic

import typer

from voicelog.app.open_log import open_log
from voicelog.app.session_catalog import DerivingProgress, SessionCatalog
from voicelog.app.session_choice import logged_dog
from voicelog.report.deriving_words import deriving_words, waiting_words
from voicelog.report.words import clean, counted
from voicelog.store import Log

__all__ = ["opened_catalog", "refreshed_session_catalog", "warn_set_aside"]

_PATIENCE_S = 3.0
"""Seconds between two lines of progress."""


@contextmanager
def opened_catalog(data_dir: Path | None, dog: str | None = None) -> Iterator[SessionCatalog]:
    """The sessions of the log in the folder given, or in this user's own, while it is open.

    What was stale is derived anew, where only one `dog` is asked for that one's first; what is set
    aside is named on standard error.
    """
    with open_log(data_dir) as log:
        yield refreshed_session_catalog(log, dog)


def refreshed_session_catalog(log: Log, dog: str | None = None) -> SessionCatalog:
    """The same for a log that is open."""
    catalog = SessionCatalog(log)
    name = None if dog is None else logged_dog(catalog, dog)
    catalog.refresh(name, _show_progress())
    if name is not None and (waiting := len(catalog.stale())):
        typer.echo(f"voicelog: {waiting_words(waiting, name)}", err=True)
    warn_set_aside(log)
    return catalog


def _show_progress() -> DerivingProgress:
    """Tells on standard error how far deriving is, once it takes long and where someone sees it."""
    began = told = monotonic()

    def show(number: int, total: int) -> None:
        nonlocal told
        if sys.stderr.isatty() and monotonic() - told > _PATIENCE_S and number < total:
            told = monotonic()
            left_s = (told - began) / number * (total - number)
            typer.echo(f"voicelog: {deriving_words(number, total, left_s)}", err=True)

    return show


def warn_set_aside(log: Log) -> None:
    """Name the recordings that count nowhere, in one line on standard error."""
    found = list(log.asides().values())
    if len(found) == 1:
        typer.echo(f"voicelog: {clean(str(found[0]))}", err=True)
    elif found:
        names = clean(", ".join(error.name for error in found))
        typer.echo(
            f"voicelog: {counted(len(found), 'recording')} set aside, counted nowhere ({names}); "
            "'voicelog check' says why.",
            err=True,
        )
