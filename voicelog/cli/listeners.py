"""`voicelog listeners`: who listens on this machine, and the models they listen with."""

from __future__ import annotations

from typing import Annotated

import typer

from voicelog.recognition import model_install
from voicelog.report.listener_words import installed_lines, listener_lines, model_lines

__all__ = ["app"]

app = typer.Typer(
    help="The listeners that hear what is said.", no_args_is_help=True, rich_markup_mode=None
)


@app.command("list")
def show() -> None:
    """List the listeners of this machine, those in use first, and where models are kept.

    Example: voicelog listeners list
    """
    for line in listener_lines():
        typer.echo(line)


@app.command("install")
def install(
    what: Annotated[
        str,
        typer.Argument(
            metavar="FILE",
            help="A model as its maker distributes it: a zip or tar archive, or a folder.",
        ),
    ],
    sha256: Annotated[
        str | None,
        typer.Option(
            "--sha256",
            metavar="HASH",
            help="The SHA-256 of the archive or, for a model that comes as files, of its weights.",
        ),
    ] = None,
    again: Annotated[
        bool, typer.Option("--again", help="Install it again even if it is there.")
    ] = False,
) -> None:
    """Install a model that you have as an archive or a folder.

    Nothing is downloaded: get the model from its maker and name the file. The SHA-256 is
    shown and kept: compare it with the maker's, and 'listeners verify' holds the files
    against it later.

    Example: voicelog listeners install vosk-model-small-en-us-0.15.zip
    """
    done = model_install.install(what, sha256=sha256, again=again)
    for line in installed_lines(done):
        typer.echo(line)


@app.command("verify")
def verify() -> None:
    """Check every file of every installed model: whole, English, unchanged.

    Example: voicelog listeners verify
    """
    bad = False
    for line, good in model_lines():
        typer.echo(line if good else f"voicelog: {line}", err=not good)
        bad |= not good
    if bad:
        raise typer.Exit(1)
