"""`voicelog delete`: sessions, a dog, recordings set aside or half added, old sound; for good."""

from __future__ import annotations

from typing import Annotated

import typer

from voicelog.app import delete
from voicelog.app.open_log import open_log
from voicelog.app.session_catalog import SessionCatalog, ready_catalog
from voicelog.app.session_choice import sessions_of_dog
from voicelog.cli import options
from voicelog.cli.open_catalog import opened_catalog
from voicelog.report.deletion_words import (
    DELETE_ASIDE,
    DELETE_HALF,
    STILL_HELD,
    dog_found_line,
    gone_line,
    half_found_line,
    leftover_line,
    named_in_settings_line,
    not_swept_line,
    session_found_line,
    sound_found_line,
)
from voicelog.report.wording.matters import at_stake_lines
from voicelog.report.words import clean
from voicelog.store import Log
from voicelog.store.deletion import DeletionResult, leftovers

__all__ = ["app"]

Yes = Annotated[bool, typer.Option("--yes", help="Delete without asking.")]
DogName = Annotated[str, typer.Argument(metavar="DOG", help="The dog's name.")]

app = typer.Typer(
    help="Delete sessions, a dog, or sound that is no longer needed: every copy in the log.",
    no_args_is_help=True,
    rich_markup_mode=None,
)


@app.command("session")
def delete_session(
    dog: DogName,
    day: Annotated[str, typer.Option("--day", metavar="DATE", help="The day, as 2026-04-18.")],
    session: Annotated[
        str | None, typer.Option("--id", help="Only the session of this id, of several that day.")
    ] = None,
    yes: Yes = False,
    data_dir: options.DataDir = None,
) -> None:
    """Delete a dog's sessions of a day: entries and sound.

    Sound that belongs to another session too is kept, with this part silent.

    Example: voicelog delete session Bracken --day 2026-04-18
    """
    with opened_catalog(data_dir) as catalog:
        found = delete.find_sessions(catalog, dog, options.day_of(day), session)
        for row in found:
            typer.echo(session_found_line(row.dog, row.day, row.counts.get("reps", 0), row.key))
        _say_at_stake(delete.matters_at_stake(catalog, found))
        _ask(yes, "Delete this for good, entries and sound?")
        _say_gone(catalog.log, delete.delete_sessions(catalog, found))


@app.command("dog")
def delete_dog(dog: DogName, yes: Yes = False, data_dir: options.DataDir = None) -> None:
    """Delete a dog: its profile, its sessions, their sound.

    Example: voicelog delete dog Bracken
    """
    with opened_catalog(data_dir) as catalog:
        found = delete.find_dog(catalog, dog)
        typer.echo(dog_found_line(dog, found.sessions, len(found.parts)))
        rows = sessions_of_dog(catalog, dog)
        _say_at_stake(delete.matters_at_stake(catalog, rows, whole_dog=True))
        _ask(yes, "Delete the dog for good, with all its entries and sound?")
        _say_gone(catalog.log, delete.delete_dog(catalog, found))
        if settings := delete.settings_that_name(catalog, dog):
            typer.echo(named_in_settings_line(str(settings), dog))


@app.command("aside")
def delete_aside(yes: Yes = False, data_dir: options.DataDir = None) -> None:
    """Delete all recordings that are set aside since this program cannot work with them.

    A newer voicelog may read them: try that first.

    Example: voicelog delete aside
    """
    with open_log(data_dir) as log:
        catalog = ready_catalog(log)
        out = catalog.asides()
        for error in out.values():
            typer.echo(clean(f"{error.name}: {error.why}"))
        if not out:
            typer.echo("No recording is set aside.")
            return
        typer.echo(DELETE_ASIDE)
        _ask(yes, "Delete this for good, entries and sound?")
        _say_gone(log, delete.delete_recordings(catalog, list(out)))


@app.command("half")
def delete_half(
    name: Annotated[
        list[str] | None, typer.Argument(metavar="[FILE]...", help="Its file name. Default: all.")
    ] = None,
    yes: Yes = False,
    data_dir: options.DataDir = None,
) -> None:
    """Delete recordings that were only half added, and that nobody will complete.

    Not one that is being added or recorded now. It cannot be added again afterwards.

    Example: voicelog delete half monday.wav
    """
    with open_log(data_dir) as log:
        found = delete.find_half(log, name or [])
        for one in found:
            typer.echo(clean(half_found_line(one.file_name or one.id, one.added_at)))
        if not found:
            typer.echo("No recording is half added.")
            return
        typer.echo(DELETE_HALF)
        _ask(yes, "Delete this for good, entries and sound?")
        gone = delete.delete_recordings(SessionCatalog(log), [one.id for one in found])
        _say_gone(log, gone)


@app.command("sound")
def delete_sound(
    older_than: Annotated[
        int,
        typer.Option(
            "--older-than", min=0, metavar="DAYS", help="Recorded at least this many days ago."
        ),
    ],
    unread: Annotated[
        bool, typer.Option("--unread", help="Also where entries are still to check.")
    ] = False,
    memos: Annotated[
        bool, typer.Option("--memos", help="Also where there are memos, which are sound only.")
    ] = False,
    matters: Annotated[
        bool, typer.Option("--matters", help="Also where a matter of the dog is open.")
    ] = False,
    yes: Yes = False,
    data_dir: options.DataDir = None,
) -> None:
    """Delete old sound whose entries have been reviewed; the entries stay.

    Example: voicelog delete sound --older-than 90
    """
    with opened_catalog(data_dir) as catalog:
        found = delete.find_sound(catalog, older_than, unread=unread, memos=memos, matters=matters)
        left = (found.to_check, found.with_memos, found.with_matters)
        typer.echo(sound_found_line(len(found.chosen), *left))
        if not found.chosen:
            return
        _ask(yes, "Delete their sound for good?")
        _say_gone(catalog.log, delete.delete_sound(catalog, found.chosen))


# --- within -----------------------------------------------------------------------------


def _ask(yes: bool, question: str) -> None:
    if not yes:
        typer.confirm(question, abort=True)


def _say_at_stake(at_stake: delete.MattersAtStake) -> None:
    for line in at_stake_lines(at_stake.kept, at_stake.forgotten, at_stake.ceilings):
        typer.echo(line)


def _say_gone(log: Log, gone: DeletionResult) -> None:
    typer.echo(gone_line(gone.events, gone.sounds, gone.recordings))
    if left := leftover_line(leftovers(log.folder)):
        typer.echo(left)
    typer.echo(STILL_HELD)
    if not gone.swept:
        typer.echo(f"voicelog: {not_swept_line()}", err=True)
        raise typer.Exit(1)
