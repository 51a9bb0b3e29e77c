"""`voicelog rehear`: kept recordings heard again, what that changes, and whether to take it."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from functools import partial
from typing import Annotated

import typer

from voicelog.app.heard_elsewhere import HeardWith, HearingOutcome
from voicelog.app.hearing_workers import HearingWorkers
from voicelog.app.open_log import open_log
from voicelog.app.rehear import (
    Difference,
    accept_rehearing,
    difference_lines,
    name_of,
    recordings_to_rehear,
    rehear_task,
    rehear_today,
    sum_lines,
)
from voicelog.cli import options
from voicelog.cli.hearing_bar import HearingBar, hear_each, hear_elsewhere
from voicelog.cli.open_catalog import changes_told, refreshed_session_catalog
from voicelog.cli.workers import chosen_workers
from voicelog.model import UsageError, VoicelogError
from voicelog.recognition.recognizers import RecognizerChoice
from voicelog.report.rehear_words import taken_words
from voicelog.report.words import counted
from voicelog.store import Log, StoredRecording

__all__ = ["rehear"]


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
    cluster: options.Cluster = None,
    cluster_unencrypted: options.ClusterUnencrypted = False,
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
        catalog = refreshed_session_catalog(log, dog)
        chosen = recordings_to_rehear(log, catalog, dog, options.day_of(day))
        found: list[Difference] = []
        failed = False
        heard_with = HeardWith(log.roster(), (), listener)
        with chosen_workers(len(chosen), jobs, cluster, cluster_unencrypted, heard_with) as workers:
            for kept, result in _each(log, chosen, listener, workers):
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
            with changes_told(catalog):
                catalog.refresh_new()
                if new:
                    typer.echo(taken_words(taken))
    if failed:
        raise typer.Exit(1)


def _each(
    log: Log,
    chosen: Sequence[StoredRecording],
    listener: RecognizerChoice | None,
    workers: HearingWorkers | None,
) -> Iterator[tuple[StoredRecording, Difference | VoicelogError]]:
    """Every recording with what hearing it again makes of it. `workers`: who hears; None: this
    process."""
    if workers is None:
        bar = HearingBar()
        here = partial(rehear_today, log, listener=listener, heard_so_far=bar.heard_so_far)
        return hear_each(chosen, here, 1, bar, name_of)

    def taken(kept: StoredRecording, outcome: HearingOutcome | None) -> Difference:
        return rehear_today(log, kept, listener, outcome=outcome)

    task = partial(rehear_task, log, listener=listener)
    return hear_elsewhere(workers, chosen, task, taken, name_of)


def _agreed(new: int, *, yes: bool) -> bool:
    """Whether to take over: as said, or as asked where there is somebody to ask."""
    if yes or not new:
        return True
    if not sys.stdin.isatty():
        typer.echo("Nothing was taken over; add --yes to take it.")
        return False
    return typer.confirm(f"Take over {counted(new, 'change')}?")
