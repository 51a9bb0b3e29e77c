"""`voicelog listeners`: who listens on this machine, and the models they listen with."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Annotated

import typer

__all__ = ["app"]

app = typer.Typer(
    help="The listeners that hear what is said.", no_args_is_help=True, rich_markup_mode=None
)


@app.command("list")
def show() -> None:
    """List the listeners of this machine, those in use first, and what can be installed.

    Example: voicelog listeners list
    """
    from voicelog.hearing.engines import engines
    from voicelog.hearing.models import places, vosk_models, whisper_models
    from voicelog.hearing.publishers import PUBLISHED

    known = engines("en")
    for engine in known:
        typer.echo(f"{'in use' if engine.used else 'there'}: {engine.name}")
    vosk, whisper = vosk_models(), whisper_models()
    heard_with = " ".join(f"{engine.name.replace(',', '')} " for engine in known)
    for model in whisper.whole:
        if f"whisper {model.name} " not in heard_with:
            typer.echo(f"there: whisper {model.name}")
    for problem in (*vosk.broken, *whisper.broken):
        typer.echo(f"not usable: {problem}")
    here = {m.folder.name for m in vosk.whole} | {m.folder.name for m in whisper.whole}
    to_be_had = [
        one
        for one in PUBLISHED
        if one.name not in here and f"whisper {one.short} " not in heard_with
    ]
    if to_be_had:
        typer.echo("To be had with 'voicelog listeners install NAME':")
    for one in to_be_had:
        typer.echo(f"  {one.short:<18}{one.megabytes:>4} MB  {one.purpose}")
    typer.echo(f"Models lie in {', or '.join(map(str, places()))}.")


@app.command("install")
def install(
    what: Annotated[
        str,
        typer.Argument(
            metavar="NAME|FILE|URL",
            help="A name from 'listeners list'; a zip or tar archive or a folder in hand; or an "
            "address (https://).",
        ),
    ],
    sha256: Annotated[
        str | None,
        typer.Option(
            "--sha256",
            metavar="HASH",
            help="What the archive must have; for a model that comes as files, its weights.",
        ),
    ] = None,
    again: Annotated[
        bool, typer.Option("--again", help="Put it in anew though it is there.")
    ] = False,
) -> None:
    """Fetch a model from its publisher, or take one in hand, and put it among the models.

    This is the only command that goes onto the internet. What is cut short goes on when it
    is run again. The SHA-256 is shown and kept: compare it with the publisher's, and
    'listeners verify' holds the files against it later.

    Example: voicelog listeners install small-en-us-0.15
    """
    from voicelog.hearing.install import install as put_in

    with _bars() as progress_of:
        done = put_in(what, sha256=sha256, again=again, progress_of=progress_of)
    typer.echo(f"{done.name} is installed in {done.folder.parent}.")
    known = "as when it was first seen here" if done.seen_before else "kept from now on"
    typer.echo(f"SHA-256 {done.sha256}, {known}.")


@app.command("verify")
def verify() -> None:
    """Look through every file of every installed model: whole, English, unchanged.

    Example: voicelog listeners verify
    """
    from voicelog.hearing.verify import verify as look

    checked = look()
    if not checked:
        typer.echo("No model is installed. PocketSphinx brings its own.")
    for one in checked:
        if one.problem is None:
            known = "hashes kept from now on" if one.first_seen else "as first seen"
            typer.echo(f"{one.folder.name}: whole, {known}.")
        else:
            typer.echo(f"voicelog: {one.problem}", err=True)
    if any(one.problem for one in checked):
        raise typer.Exit(1)


@contextmanager
def _bars() -> Iterator[Callable[[str], Callable[[int, int | None], None]]]:
    """A bar for each file, on standard error, where there is a terminal to see it."""
    from rich.console import Console
    from rich.progress import (
        BarColumn,
        DownloadColumn,
        Progress,
        TextColumn,
        TimeRemainingColumn,
        TransferSpeedColumn,
    )

    console = Console(stderr=True)
    columns = (
        TextColumn("{task.description}"),
        BarColumn(),
        DownloadColumn(),
        TransferSpeedColumn(),
        TimeRemainingColumn(),
    )
    with Progress(*columns, console=console, disable=not console.is_terminal) as bars:

        def of(name: str) -> Callable[[int, int | None], None]:
            bar = bars.add_task(name, total=None)
            return lambda done, total: bars.update(bar, completed=done, total=total)

        yield of
