"""`voicelog watch`: a folder whose recordings are taken in as they come."""

from __future__ import annotations

import sys
import time
from pathlib import Path
from typing import Annotated

import typer

from voicelog.app.open_file import IntakeOptions, lasting_options
from voicelog.app.open_log import open_log
from voicelog.app.watch import FolderWatch, NoFolderError
from voicelog.cli import options
from voicelog.cli.hearing_bar import HearingBar
from voicelog.cli.open_catalog import refreshed_session_catalog
from voicelog.report.watched_words import (
    arriving_words,
    asked_words,
    watched_words,
    watching_words,
)
from voicelog.store import Log

__all__ = ["watch"]


def watch(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="The folder to watch.")],
    once: Annotated[
        bool, typer.Option("--once", help="Take in what is complete, then stop: for a timed job.")
    ] = False,
    settle: Annotated[
        float,
        typer.Option(
            "--settle",
            min=0.0,
            max=600.0,
            metavar="S",
            help="Seconds a file must stay unchanged to count as complete.",
        ),
    ] = 10.0,
    every: Annotated[
        float,
        typer.Option(
            "--every", min=0.1, max=600.0, metavar="S", help="How often to look, in seconds."
        ),
    ] = 5.0,
    dog: options.DogNames = None,
    listener: options.ListenerOption = None,
    optional: options.OptIn = None,
    settings: options.SettingsFile = None,
    data_dir: options.DataDir = None,
) -> None:
    """Take in recordings as they arrive in a folder, until Ctrl-C.

    It does not matter how they get there: by a sync program, a cable or a messenger. A recording is
    taken in once its file is complete; the file itself is left as it is. A second copy is not taken
    again; the same sound in another format is left out, and you are told. The date comes from the
    recording's tags, else its name, else the time of the file; you are told which.

    Example: voicelog watch ~/Recordings
    """
    with open_log(data_dir) as log:
        bar = HearingBar()

        def wanted() -> IntakeOptions:
            return lasting_options(
                log,
                dog=dog,
                listener=listener,
                optional=optional,
                settings=settings,
                heard_so_far=bar.heard_so_far,
            )

        wanted()  # what is wrong with the options is said at once
        watched = FolderWatch(log, folder, wanted, settle_s=settle)
        if once:
            _once(log, watched, bar, settle)
            return
        typer.echo(watching_words(str(folder)))
        if asked := watched.asked:
            typer.echo(asked_words(len(asked)))
            for one in asked:
                typer.echo(watched_words(one))
        sys.stdout.flush()
        try:
            _watch(log, watched, bar, every)
        except KeyboardInterrupt:
            return


def _once(log: Log, watched: FolderWatch, bar: HearingBar, settle_s: float) -> None:
    """Two looks, as far apart as a file has to stay as it is; one where nothing is new."""
    failed = _look(log, watched, bar)
    if watched.arriving:
        time.sleep(settle_s + 0.1)
        failed = _look(log, watched, bar)
    if watched.arriving:
        typer.echo(arriving_words(watched.arriving), err=True)
    if failed:
        raise typer.Exit(1)


def _watch(log: Log, watched: FolderWatch, bar: HearingBar, every_s: float) -> None:
    gone = False
    while True:
        try:
            _look(log, watched, bar)
            gone = False
        except NoFolderError as error:
            if not gone:
                typer.echo(f"voicelog: {error}", err=True)
            gone = True
        time.sleep(every_s)


def _look(log: Log, watched: FolderWatch, bar: HearingBar) -> bool:
    """One look, and what became of each file; whether something failed that is tried again."""
    failed = heard = False
    with bar.shown():
        for found in watched.look():
            bar.end()
            failed |= found.outcome == "waits"
            heard |= found.outcome == "heard"
            typer.echo(watched_words(found), err=found.outcome != "heard")
            sys.stdout.flush()
    if heard:
        refreshed_session_catalog(log, tell=True, new=True)
    return failed
