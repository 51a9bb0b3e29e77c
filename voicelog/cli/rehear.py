"""`voicelog rehear`: kept recordings heard again, what that changes, and whether to take it."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import Annotated

import typer

from voicelog.analysis.reviewed_entries import OutcomeTally
from voicelog.app.intake import HeardSoFar
from voicelog.app.open_log import open_log
from voicelog.app.rehear import (
    Difference,
    UtteranceChange,
    UtteranceText,
    accept_rehearing,
    recordings_to_rehear,
    rehear_today,
)
from voicelog.cli import options
from voicelog.cli.hearing_bar import HearingBar, hear_each
from voicelog.cli.open_catalog import refreshed_session_catalog
from voicelog.model import UsageError
from voicelog.recognition.recognizers import PassChoice
from voicelog.report.accuracy_text import OUTCOMES
from voicelog.report.state_words import status_word
from voicelog.report.words import clean, clock, counted
from voicelog.store import StoredRecording

__all__ = ["again", "name_of", "rehear"]

_OUTCOMES = {**OUTCOMES, "right": "sure and right, or rightly not understood"}


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
                _show(kept, result)
        new = sum(len(difference.new) for difference in found)
        _sum_up(found)
        if not dry_run and _agreed(new, yes=yes):
            taken = sum(accept_rehearing(log, difference) for difference in found)
            catalog.refresh()
            if new:
                typer.echo(f"{counted(taken, 'change')} taken over.")
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


# --- what is shown ----------------------------------------------------------------------


def name_of(kept: StoredRecording) -> str:
    return clean(kept.file_name) or kept.id[:12]


def _show(kept: StoredRecording, difference: Difference) -> None:
    new = difference.new
    typer.echo(f"{name_of(kept)}: {counted(len(new), 'change') if new else 'nothing changes'}.")
    for change in difference.changes:
        if change.seen:
            typer.echo(f"  {_at(change)}  {_told(change)}")


def _at(change: UtteranceChange) -> str:
    return f"{clock(min(said.start_s for said in (*change.before, *change.after))):>6}"


def _told(change: UtteranceChange) -> str:
    if change.person:
        return f"stays {_side(change.before)}; today heard {_side(change.after)}"
    if not change.before:
        return f"new: {_side(change.after)}"
    return f"{_side(change.before)} -> {_side(change.after)}"


def _side(said: Sequence[UtteranceText]) -> str:
    """One side of a change; words that were rejected are worth no reading."""
    return " + ".join(
        status_word(one.status) + (f' "{clean(one.words)}"' if one.status != "rejected" else "")
        for one in said
    )


def _sum_up(found: Sequence[Difference]) -> None:
    before = sum((difference.before for difference in found), OutcomeTally())
    today = sum((difference.after for difference in found), OutcomeTally())
    if not before.read:
        typer.echo(
            "No entry of these was reviewed by a person, so there is nothing to measure it by."
        )
        return
    typer.echo(f"On {counted(before.read, 'entry', 'entries')} that people have reviewed:")
    for name, meaning in _OUTCOMES.items():
        then, now = getattr(before, name), getattr(today, name)
        typer.echo(f"  {meaning:<42}{then:>5} before {now:>5} today")


def _agreed(new: int, *, yes: bool) -> bool:
    """Whether to take over: as said, or as asked where there is somebody to ask."""
    if yes or not new:
        return True
    if not sys.stdin.isatty():
        typer.echo("Nothing was taken over; add --yes to take it.")
        return False
    return typer.confirm(f"Take over {counted(new, 'change')}?")
