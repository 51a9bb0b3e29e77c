"""`voicelog add`: recordings into the log, and what it says of each."""

from __future__ import annotations

import sys
from dataclasses import replace
from functools import partial
from operator import attrgetter
from pathlib import Path
from typing import Annotated

import typer

from voicelog.app.add import add_file, is_begun
from voicelog.app.archive import import_bundle
from voicelog.app.input_files import InputFiles
from voicelog.app.open_file import IntakeOptions
from voicelog.app.open_log import open_log
from voicelog.app.parallel import for_each
from voicelog.app.same_sound import SameSoundError
from voicelog.cli import options
from voicelog.cli.hearing_bar import HearingBar, hear_each
from voicelog.cli.intake import intake_options, taken_files
from voicelog.cli.open_catalog import refreshed_session_catalog
from voicelog.model import UsageError
from voicelog.report.added_words import added_words
from voicelog.report.merge_words import merged_words
from voicelog.store.bagit import is_bagit

__all__ = ["add", "add_and_tell"]


def add(
    audio: options.InputPaths,
    dog: options.DogNames = None,
    typed: options.Typed = False,
    who: options.Speaker = None,
    listener: options.ListenerOption = None,
    at: options.AtOption = None,
    jobs: options.Jobs = 1,
    optional: options.OptIn = None,
    settings: options.SettingsFile = None,
    redate: Annotated[
        bool, typer.Option("--redate", help="Put the date of --at in place of the one in the log.")
    ] = False,
    anyway: Annotated[
        bool,
        typer.Option(
            "--anyway", help="Add it even if it sounds like a recording that is already there."
        ),
    ] = False,
    data_dir: options.DataDir = None,
) -> None:
    """Hear recordings and keep them in the log: the sound, and all that was heard.

    The same sound is kept once; in another format you are asked about it. The same typed words on
    another day (--at) are another session. A recording without a date takes the one of --at. If
    'add' is cut short, run it again: it goes on with the dogs and settings it was begun with. A
    bundle from another trainer ('voicelog export --format bundle') is taken in as it is. For a
    folder, all recordings and typed notes in it and in its subfolders are taken.

    Example: voicelog add monday/*.m4a --dog Bracken
    """
    files = taken_files(audio, typed=typed)
    with open_log(data_dir) as log:
        wanted = intake_options(
            strangers=all(is_begun(log, path) for path in files.paths),
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
        bar = HearingBar()
        if jobs == 1:
            wanted = replace(wanted, heard_so_far=bar.heard_so_far)
        work = partial(add_and_tell, files, wanted, log.folder, redate, anyway)
        for path, result in hear_each(files.paths, work, jobs, bar, attrgetter("name")):
            if isinstance(result, SameSoundError) and _wanted_anyway(result):
                work = partial(add_and_tell, files, wanted, log.folder, redate, True)
                ((_, result),) = for_each([path], work, 1)
            if isinstance(result, Exception):
                typer.echo(f"voicelog: {result}", err=True)
                failed = True
            else:
                typer.echo(f"{path.name}: {result}")
        refreshed_session_catalog(log)
    if failed:
        raise typer.Exit(1)


def add_and_tell(
    files: InputFiles,
    options: IntakeOptions,
    folder: Path,
    redate: bool,
    anyway: bool,
    path: Path,
) -> str:
    """Add one of the files, or a bundle, to the log of a folder; what came of it, in words.

    `redate`: the time of `options` is right where the log has another. `anyway`: as in `add_file`.
    """
    with open_log(folder) as log:
        if is_bagit(path):
            return merged_words(import_bundle(log, path))
        wanted = files.options_for(path, options)
        return added_words(add_file(log, path, wanted, redate=redate, anyway=anyway))


def _wanted_anyway(error: SameSoundError) -> bool:
    """Whether somebody at the terminal says that it is another recording; nobody there: no."""
    if not sys.stdin.isatty():
        return False
    typer.echo(f"voicelog: {error}", err=True)
    return typer.confirm("Add it anyway?", err=True)
