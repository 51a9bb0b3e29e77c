"""`voicelog delete`: sessions, a dog, recordings set aside or half added, old sound; for good."""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from voicelog.app import delete
from voicelog.app.deletion_plan import (
    PlannedDeletion,
    asides_to_delete,
    dog_to_delete,
    lines_of_gone,
    sessions_to_delete,
    sound_to_delete,
)
from voicelog.app.open_log import open_log
from voicelog.app.session_catalog import SessionCatalog, ready_catalog
from voicelog.cli import options
from voicelog.cli.open_catalog import changes_told, opened_catalog
from voicelog.model import UsageError
from voicelog.report.deletion_words import (
    DELETE_HALF,
    half_found_line,
    named_in_settings_line,
    not_swept_line,
)
from voicelog.report.words import clean
from voicelog.store import Log
from voicelog.store.deletion import DeletionResult

__all__ = ["app"]

_ENTRIES_TOO = "Delete this for good, entries and sound? No backup brings it back into this log."
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
        str | None,
        typer.Option("--session", "--id", help="Only the session of this id, of several that day."),
    ] = None,
    yes: Yes = False,
    data_dir: options.DataDir = None,
) -> None:
    """Delete a dog's sessions of a day: entries and sound.

    Sound that belongs to another session too is kept, with this part silent.

    Example: voicelog delete session Bracken --day 2026-04-18
    """
    with opened_catalog(data_dir) as catalog:
        planned = sessions_to_delete(catalog, dog, options.day_of(day), session)
        with changes_told(catalog):
            _ask_and_do(catalog.log, planned, yes, _ENTRIES_TOO)


@app.command("dog")
def delete_dog(dog: DogName, yes: Yes = False, data_dir: options.DataDir = None) -> None:
    """Delete a dog: its profile, its sessions, their sound.

    Example: voicelog delete dog Bracken
    """
    with opened_catalog(data_dir) as catalog:
        planned = dog_to_delete(catalog, dog)
        question = (
            "Delete the dog for good, with all its entries and sound? No backup brings them back "
            "into this log."
        )
        with changes_told(catalog):
            _ask_and_do(catalog.log, planned, yes, question)
        if planned.settings is not None:
            typer.echo(named_in_settings_line(str(planned.settings), dog))


@app.command("aside")
def delete_aside(yes: Yes = False, data_dir: options.DataDir = None) -> None:
    """Delete all recordings that are set aside since this program cannot work with them.

    A newer voicelog may read them: try that first.

    Example: voicelog delete aside
    """
    with open_log(data_dir) as log:
        catalog = ready_catalog(log)
        planned = asides_to_delete(catalog)
        if not planned.count:
            typer.echo("No recording is set aside.")
            return
        _ask_and_do(log, planned, yes, _ENTRIES_TOO)


@app.command("half")
def delete_half(
    name: Annotated[
        list[str] | None, typer.Argument(metavar="[FILE]...", help="Its file name. Default: all.")
    ] = None,
    yes: Yes = False,
    data_dir: options.DataDir = None,
) -> None:
    """Delete recordings that were only half added, and that nobody will complete.

    One that is being added or recorded now is left alone. What is deleted cannot be added again.

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
        _ask(yes, _ENTRIES_TOO)
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
        planned = sound_to_delete(catalog, older_than, unread=unread, memos=memos, matters=matters)
        if not planned.count:
            typer.echo("\n".join(planned.lines))
            return
        _ask_and_do(catalog.log, planned, yes, "Delete their sound for good?")


# --- within -----------------------------------------------------------------------------


def _ask(yes: bool, question: str) -> None:
    """Ask; where nobody can be asked, `yes` has to be said, so that no script deletes by accident.

    Raises:
        UsageError: nobody is at a terminal, and it was not said.
    """
    if yes:
        return
    if not sys.stdin.isatty():
        raise UsageError(
            "Nothing was deleted, since nobody is at a terminal to be asked; if all of this may "
            "go, add --yes."
        )
    if not typer.confirm(question):
        typer.echo("Nothing was deleted.")
        raise typer.Exit(1)


def _ask_and_do(log: Log, planned: PlannedDeletion, yes: bool, question: str) -> None:
    for line in planned.lines:
        typer.echo(line)
    _ask(yes, question)
    _say_gone(log, planned.do())


def _say_gone(log: Log, gone: DeletionResult) -> None:
    for line in lines_of_gone(log.folder, gone):
        typer.echo(line)
    if not gone.swept:
        typer.echo(f"voicelog: {not_swept_line()}", err=True)
        raise typer.Exit(1)
