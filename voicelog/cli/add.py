"""`voicelog add`: recordings into the log, and what it says of each."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace
from operator import attrgetter
from pathlib import Path
from typing import Annotated, NamedTuple

import typer

from voicelog.app.add import add_file, is_begun, options_to_hear
from voicelog.app.archive import import_bundle
from voicelog.app.heard_elsewhere import HearingOutcome, HearingTask
from voicelog.app.hearing_workers import HearingWorkers
from voicelog.app.input_files import InputFiles
from voicelog.app.open_file import IntakeOptions
from voicelog.app.open_log import open_log
from voicelog.app.parallel import for_each
from voicelog.app.same_sound import SameRecordingError
from voicelog.cli import options
from voicelog.cli.hearing_bar import HearingBar, hear_each, hear_elsewhere
from voicelog.cli.intake import intake_options, refusal_words, taken_files
from voicelog.cli.open_catalog import refreshed_session_catalog
from voicelog.cli.workers import chosen_workers
from voicelog.model import UsageError, VoicelogError
from voicelog.report.added_words import ADDED_NEXT, added_words, nameless_words
from voicelog.report.merge_words import merged_words
from voicelog.store import Log
from voicelog.store.bagit import is_bagit

__all__ = ["add"]


def add(
    audio: options.InputPaths,
    dog: options.DogNames = None,
    typed: options.Typed = False,
    who: options.Speaker = None,
    listener: options.ListenerOption = None,
    at: options.AtOption = None,
    jobs: options.Jobs = 1,
    cluster: options.Cluster = None,
    cluster_unencrypted: options.ClusterUnencrypted = False,
    optional: options.OptIn = None,
    settings: options.SettingsFile = None,
    redate: Annotated[
        bool, typer.Option("--redate", help="Put the date of --at in place of the one in the log.")
    ] = False,
    anyway: Annotated[
        bool,
        typer.Option(
            "--anyway", help="Add it even if it is like a recording that is already there."
        ),
    ] = False,
    data_dir: options.DataDir = None,
) -> None:
    """Hear recordings and keep them in the log: the sound, and all that was heard.

    The same sound is kept once; in another format you are asked about it. The same typed words on
    another day (--at) are another session. A recording without a date takes the one of --at. If
    'add' is cut short, run it again: it goes on with the dogs and settings it was begun with. A
    bundle from another trainer ('voicelog export FOLDER --format bundle') is taken in as it is.
    For a folder, all recordings and typed notes in it and in its subfolders are taken.

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
            raise UsageError("--redate needs the right date: add --at, as in --at '18 Apr 7:30'.")
        failed = False
        heard: dict[str, str] = {}
        count = len(files.paths)
        with chosen_workers(
            count, jobs, cluster, cluster_unencrypted, wanted.heard_with
        ) as workers:
            adding = _Adding(log, files, wanted, redate, anyway)
            for path, result in adding.each(workers):
                if isinstance(result, SameRecordingError) and _wanted_anyway(result):
                    ((_, result),) = for_each([path], replace(adding, anyway=True).add, 1)
                if isinstance(result, Exception):
                    typer.echo(f"voicelog: {refusal_words(path, result)}", err=True)
                    failed = True
                else:
                    typer.echo(f"{path.name}: {result.words}")
                    heard |= {result.heard: path.name} if result.heard else {}
        catalog = refreshed_session_catalog(log, tell=True, new=True)
        for recording, file in heard.items():
            line = catalog.line(recording)
            told = {rep.session for rep in line.reps} | {one.session for one in line.findings}
            for session in line.sessions:
                if not session.dog and session.id in told:
                    typer.echo(nameless_words(file, session.id))
    if heard:
        typer.echo(ADDED_NEXT)
    if failed:
        raise typer.Exit(1)


class _AddTold(NamedTuple):
    """What came of a file in words, and the id of the recording that was heard now, "" where none
    was."""

    words: str
    heard: str = ""


@dataclass(frozen=True, slots=True)
class _Adding:
    """What one command adds, and how; `redate` and `anyway` as in `add_file`."""

    log: Log
    files: InputFiles
    options: IntakeOptions
    redate: bool
    anyway: bool

    def each(
        self, workers: HearingWorkers | None
    ) -> Iterator[tuple[Path, _AddTold | VoicelogError]]:
        """Every file with what came of it. `workers`: who hears; None: this process."""
        name = attrgetter("name")
        if workers is not None:
            return hear_elsewhere(workers, self.files.paths, self.task, self.add, name)
        bar = HearingBar()
        told = replace(self, options=replace(self.options, heard_so_far=bar.heard_so_far))
        return hear_each(self.files.paths, told.add, 1, bar, name)

    def task(self, path: Path) -> HearingTask | None:
        """What of a file another process can hear."""
        if is_bagit(path):
            return None
        wanted = options_to_hear(self.log, path, self.files.options_for(path, self.options))
        return None if wanted is None else HearingTask(path, wanted.heard_with)

    def add(self, path: Path, outcome: HearingOutcome | None = None) -> _AddTold:
        """Add one of the files, or a bundle; what came of it. `outcome` is what another
        process heard in it."""
        if is_bagit(path):
            return _AddTold(merged_words(import_bundle(self.log, path)))
        wanted = replace(self.files.options_for(path, self.options), outcome=outcome)
        added = add_file(self.log, path, wanted, redate=self.redate, anyway=self.anyway)
        return _AddTold(added_words(added), added.heard.recording if added.heard else "")


def _wanted_anyway(error: SameRecordingError) -> bool:
    """Whether somebody at the terminal says that it is another recording; nobody there: no."""
    if not sys.stdin.isatty():
        return False
    typer.echo(f"voicelog: {error}", err=True)
    return typer.confirm("Add it anyway?", err=True)
