"""`voicelog add`: recordings into the log."""

from __future__ import annotations

from functools import partial
from operator import attrgetter
from pathlib import Path
from typing import Annotated

import typer

from voicelog.app.add import is_begun
from voicelog.app.open_log import open_log
from voicelog.app.parallel import for_each
from voicelog.cli import options
from voicelog.cli.adding import add_and_tell
from voicelog.cli.catalog import refreshed_session_catalog
from voicelog.cli.intake import intake_options, show_progress
from voicelog.model import UsageError

__all__ = ["add"]


def add(
    audio: Annotated[list[Path], typer.Argument(help="Recordings of any common format.")],
    dog: options.DogNames = None,
    typed: options.Typed = False,
    who: options.Speaker = None,
    listener: options.ListenerOption = None,
    at: options.AtOption = None,
    jobs: options.Jobs = 1,
    optional: options.OptIn = None,
    settings: options.SettingsFile = None,
    redate: Annotated[
        bool, typer.Option("--redate", help="--at is right, whatever date the log has.")
    ] = False,
    data_dir: options.DataDir = None,
) -> None:
    """Hear recordings and keep them in the log: the sound, and all that was heard.

    The same sound added again is one; the same typed words of another day (--at) are another
    session. One that is there without a date takes that of --at. Cut short, it is completed when
    run again, with the dogs and settings it was begun with. A bundle of another trainer
    ('voicelog export --format bundle') is taken in as it is.

    Example: voicelog add monday/*.m4a --dog Bracken
    """
    with open_log(data_dir) as log:
        wanted = intake_options(
            strangers=all(is_begun(log, path) for path in audio),
            dog=dog,
            typed=typed,
            listener=listener,
            at=at,
            optional=optional,
            settings=settings,
            data_dir=data_dir,
        )
        if redate and wanted.at is None:
            raise UsageError("Found --redate without --at, wanted the right date; add --at.")
        failed = False
        work = partial(add_and_tell, wanted, log.folder, redate)
        names = show_progress(attrgetter("name"))
        for path, result in for_each(audio, work, jobs, names):
            if isinstance(result, Exception):
                typer.echo(f"voicelog: {result}", err=True)
                failed = True
            else:
                typer.echo(f"{path.name}: {result}")
        refreshed_session_catalog(log)
    if failed:
        raise typer.Exit(1)
