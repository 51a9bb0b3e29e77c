"""The commands by name, and the one place where errors become sentences and exit codes."""

from __future__ import annotations

import io
import os
import sys

import typer

from voicelog import __version__
from voicelog.cli import (
    dogs,
    learn,
    listen,
    listeners,
    log,
    log_settings,
    maintenance,
    progress,
    read,
    rehear,
    review,
    soundcheck,
    voice,
    words,
)

__all__ = ["app", "main"]

app = typer.Typer(
    name="voicelog",
    help="A spoken field log for dog trainers: she talks, the tool logs.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["--help", "-h"]},
)


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"voicelog {__version__}")
        raise typer.Exit


@app.callback()
def _common(
    version: bool = typer.Option(
        False, "--version", callback=_version, is_eager=True, help="Say the version and stop."
    ),
) -> None:
    pass


app.command("demo")(read.demo)
app.command("read")(read.read)
app.command("add")(log.add)
app.command("listen")(listen.listen)
app.command("soundcheck")(soundcheck.soundcheck)
app.command("voice")(voice.voice)
app.command("review")(review.review)
app.command("summary")(log.summary)
app.command("progress")(progress.progress)
app.command("plan")(progress.plan)
app.command("kennel")(progress.kennel)
app.command("owner")(progress.owner)
app.command("export")(log.export)
app.command("settings")(log_settings.settings)
app.command("rehear")(rehear.rehear)
app.command("learn")(learn.learn)
app.command("rebuild")(log.rebuild)
app.command("backup")(maintenance.backup)
app.command("restore")(maintenance.restore)
app.command("check")(maintenance.check)
app.add_typer(maintenance.delete, name="delete")
app.add_typer(dogs.app, name="dogs")
app.add_typer(words.app, name="words")
app.add_typer(listeners.app, name="listeners")


def main() -> None:
    """Run the command line; never shows a traceback for what the user can mend."""
    from voicelog.model import VoicelogError

    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")  # file names need not be Unicode
    try:
        app()
    except VoicelogError as error:
        typer.echo(f"voicelog: {error}", err=True)
        sys.exit(error.exit_code)
    except KeyboardInterrupt:
        typer.echo("voicelog: stopped; what was committed is kept.", err=True)
        sys.exit(1)
    except BrokenPipeError:
        # The reader of our output went away; that is its right.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(1)
