"""The sessions of the log for a command, with what counts nowhere named on the way."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import typer

from voicelog.app.open_log import open_log
from voicelog.app.session_catalog import SessionCatalog, ready_catalog
from voicelog.report.words import clean, counted
from voicelog.store import Log

__all__ = ["opened_catalog", "refreshed_session_catalog", "warn_set_aside"]


@contextmanager
def opened_catalog(data_dir: Path | None) -> Iterator[SessionCatalog]:
    """The sessions of the log in the folder given, or in this user's own, while it is open.

    What was stale is derived anew; what is set aside is named on standard error.
    """
    with open_log(data_dir) as log:
        yield refreshed_session_catalog(log)


def refreshed_session_catalog(log: Log) -> SessionCatalog:
    """The same for a log that is open."""
    catalog = ready_catalog(log)
    warn_set_aside(log)
    return catalog


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
