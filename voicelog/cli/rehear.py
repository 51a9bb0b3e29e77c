"""`voicelog rehear`: kept recordings heard again, what that changes, and whether to take it."""

from __future__ import annotations

import sys
from functools import partial
from pathlib import Path
from typing import Annotated

import typer

from voicelog.app.intake import HeardSoFar
from voicelog.app.open_log import open_log
from voicelog.app.rehear import (
    Difference,
    accept_rehearing,
    difference_lines,
    name_of,
    recordings_to_rehear,
    rehear_today,
    sum_lines,
)
from voicelog.cli import options
from voicelog.cli.hearing_bar import HearingBar, hear_each
from voicelog.cli.open_catalog import refreshed_session_catalog
from voicelog.model import UsageError
from voicelog.recognition.recognizers import PassChoice
from voicelog.report.rehear_words import taken_words
from voicelog.report.words import counted
from voicelog.store import StoredRecording

__all__ = ["again", "rehear"]


def rehear(
    dog: Annotated[
        str | None, typer.Argument(help="Recordings with this dog. Default: all recordings.")
    ] = None,
    day: Annotated[
        str | None,
        typer.Option("--day", metavar="DATE", help="Recordings of a day, as 2026-04-18."),
    ] = None,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Only show what would change.")
    ] = False,
    yes: Annotated[
        bool, typer.Option("--yes", "-y", help="Take over what is new without asking.")
    ] = False,
    listener: options.ListenerOption = None,
    jobs: options.Jobs = 1,
    data_dir: options.DataDir = None,
) -> None:
    """Hear kept recordings again with today's listeners and vocabulary.

    Shows what changes, and how right it is on entries that people have reviewed. You are asked
    before anything is taken over. What a person has reviewed, added or acted on never changes,
    and nothing is removed. It also listens for cue words, dogs and handlers that were added
    since.

    Example: voicelog rehear Bracken --dry-run
    """
    if dry_run and yes:
        raise UsageError("Found --dry-run and --yes together, wanted one of them; leave one out.")
    with open_log(data_dir) as log:
        catalog = refreshed_session_catalog(log)
        chosen = recordings_to_rehear(log, catalog, dog, options.day_of(day))
        bar = HearingBar()
        work = partial(again, log.folder, listener, bar.heard_so_far if jobs == 1 else None)
        found: list[Difference] = []
        failed = False
        for kept, result in hear_each(chosen, work, jobs, bar, name_of):
            if isinstance(result, Exception):
                typer.echo(f"voicelog: {result}", err=True)
                failed = True
            else:
                found.append(result)
                for line in difference_lines(kept, result):
                    typer.echo(line)
        new = sum(len(difference.new) for difference in found)
        for line in sum_lines(found):
            typer.echo(line)
        if not dry_run and _agreed(new, yes=yes):
            taken = sum(accept_rehearing(log, difference) for difference in found)
            catalog.refresh()
            if new:
                typer.echo(taken_words(taken))
    if failed:
        raise typer.Exit(1)


def again(
    folder: Path,
    listener: PassChoice | None,
    heard_so_far: HeardSoFar | None,
    kept: StoredRecording,
) -> Difference:
    """Hear one recording of the log in a folder again, in whichever process. `heard_so_far` is told
    how far it is, where that is this one."""
    with open_log(folder) as log:
        if heard_so_far is None:
            return rehear_today(log, kept, listener)
        return rehear_today(log, kept, listener, heard_so_far)


def _agreed(new: int, *, yes: bool) -> bool:
    """Whether to take over: as said, or as asked where there is somebody to ask."""
    if yes or not new:
        return True
    if not sys.stdin.isatty():
        typer.echo("Nothing was taken over; add --yes to take it.")
        return False
    return typer.confirm(f"Take over {counted(new, 'change')}?")
