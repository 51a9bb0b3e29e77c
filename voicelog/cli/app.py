"""The commands by name, and the one place where errors become sentences and exit codes.

The module of a command is imported here and nowhere else, when the command is called. So every
module of this room imports at its top whatever it needs, and `voicelog --help` waits for none.
"""

from __future__ import annotations

import errno
import gc
import io
import os
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from importlib import import_module
from typing import Any, NoReturn, TextIO, cast

import typer
import typer.core
import typer.main

from voicelog import __version__
from voicelog.cli.usage_errors import is_usage_error, usage_sentence
from voicelog.report.plain_stream import PlainStream
from voicelog.report.start_words import FIRST_PAGE

__all__ = ["COMMANDS", "CommandSource", "app", "load_command", "main"]


@dataclass(frozen=True, slots=True)
class CommandSource:
    """Where a command stands, and what the help of the program says of it."""

    module: str
    """The module of this room that holds it."""
    attribute: str
    """The function that is the command, or the `typer.Typer` of a group of commands."""
    line: str
    """The first sentence of its own help (a test compares them)."""


COMMANDS: Mapping[str, CommandSource] = {
    "demo": CommandSource(
        "read", "demo", "Hear a demo recording and print its summary, or all of them."
    ),
    "read": CommandSource("read", "read", "Hear recordings and print what they say."),
    "add": CommandSource(
        "add", "add", "Hear recordings and keep them in the log: the sound, and all that was heard."
    ),
    "watch": CommandSource(
        "watch",
        "watch",
        "Take in recordings as they arrive in a folder, until Ctrl-C.",
    ),
    "listen": CommandSource(
        "listen", "listen", "Listen to the microphone, keep it all, and answer in one ear."
    ),
    "phone": CommandSource(
        "phone",
        "phone",
        "Let a phone record for this machine, through a page in its browser, until Ctrl-C.",
    ),
    "soundcheck": CommandSource(
        "soundcheck",
        "soundcheck",
        "Try microphone and earphone: say a line, see its level and what was understood.",
    ),
    "voice": CommandSource(
        "voice",
        "voice",
        "Check your microphone and your voice with a card of some thirty lines, read once.",
    ),
    "review": CommandSource(
        "review", "review", "Read, hear and correct the log on a page in the browser, until Ctrl-C."
    ),
    "correct": CommandSource(
        "correct",
        "correct_log",
        "Correct a session from the terminal: words, void, dog, date, with the page's undo.",
    ),
    "questions": CommandSource(
        "questions",
        "questions",
        "Ask about reps with something missing or impossible, and take your answers.",
    ),
    "summary": CommandSource(
        "summary", "summary", "Write the summary of sessions in the log: by default the last one."
    ),
    "progress": CommandSource(
        "progress",
        "progress",
        "Say how a dog has done over weeks: levels, calls, times, what it is ready for.",
    ),
    "plan": CommandSource("progress", "plan", "Plan a dog's next session, on one page."),
    "kennel": CommandSource(
        "progress",
        "kennel",
        "Show all dogs: what to see first, which were worked, not lately, or are stuck.",
    ),
    "owner": CommandSource(
        "progress", "owner", "Write the owner's report, two pages in plain words, as PDF."
    ),
    "matters": CommandSource(
        "matters", "app", "What went wrong for a dog and stays open until a person closes it."
    ),
    "export": CommandSource(
        "export",
        "export",
        "Write the log for other programs: JSON, or reps, entries and findings as CSV.",
    ),
    "settings": CommandSource(
        "settings",
        "settings",
        "Print every setting with its default, its unit and where it comes from.",
    ),
    "rehear": CommandSource(
        "rehear", "rehear", "Hear kept recordings again with today's listeners and vocabulary."
    ),
    "learn": CommandSource(
        "learn",
        "learn",
        "Say how accurate the log is, and which words are mistaken for others, from corrections.",
    ),
    "rebuild": CommandSource(
        "maintenance",
        "rebuild",
        "Work out all sessions, reps and findings again from the entries.",
    ),
    "backup": CommandSource(
        "maintenance", "backup", "Save the whole log as one file: entries, sound and settings."
    ),
    "restore": CommandSource(
        "maintenance",
        "restore",
        "Take a backup into the log: an empty log, or one that has changed since.",
    ),
    "check": CommandSource(
        "maintenance",
        "check",
        "Check that everything in the log is there and as it was, the sound too.",
    ),
    "share": CommandSource(
        "share",
        "app",
        "One log on many devices, through a folder that a sync program or a stick carries.",
    ),
    "lock": CommandSource("lock", "app", "Keep the log encrypted on the disk, with a passphrase."),
    "delete": CommandSource(
        "delete",
        "app",
        "Delete sessions, a dog, or sound that is no longer needed: every copy in the log.",
    ),
    "manual": CommandSource(
        "manual",
        "manual",
        "Open the manual, which ships with voicelog, in the browser.",
    ),
    "dogs": CommandSource("dogs", "app", "The dogs and handlers whose names may be spoken."),
    "words": CommandSource("words", "app", "The words that may be spoken."),
    "listeners": CommandSource("listeners", "app", "The listeners that hear what is said."),
}
"""Every command by its name, in the order in which the help lists them."""


def load_command(name: str) -> Any:
    """Import a command, or a group of commands, and make it ready to be called.

    Args:
        name: a key of `COMMANDS`.

    Returns:
        The click command of that name (of click as typer brings it, which has no public type).
    """
    source = COMMANDS[name]
    found = getattr(import_module(f"voicelog.cli.{source.module}"), source.attribute)
    _listen_to_the_store()
    holder = typer.Typer(rich_markup_mode=None, pretty_exceptions_enable=False)
    holder.callback()(lambda: None)  # with one, a single command stays a command of a group
    if isinstance(found, typer.Typer):
        holder.add_typer(found, name=name)
    else:
        holder.command(name)(found)
    return typer.main.get_group(holder).commands[name]


def _listen_to_the_store() -> None:
    """Answer what the log may ask, where the command that was just loaded opens one."""
    lock, folder = (sys.modules.get(f"voicelog.store.{name}") for name in ("log_lock", "folder"))
    if lock is None or folder is None:
        return
    # Only now, since they need what the command has loaded.
    from voicelog.cli.passphrase import ask_passphrase
    from voicelog.report.lock_words import private_words

    lock.ask_passphrase_with(ask_passphrase)
    folder.tell_of_mended_folders(
        lambda place: typer.echo(f"voicelog: {private_words(place)}", err=True)
    )


class _LazyGroup(typer.core.TyperGroup):
    """All commands as their names and lines alone; one is loaded when it is called."""

    def __init__(self, **attributes: Any) -> None:
        super().__init__(**attributes)
        for name, source in COMMANDS.items():
            self.add_command(typer.core.TyperCommand(name, callback=None, help=source.line))

    def resolve_command(self, ctx: Any, args: list[str]) -> tuple[str | None, Any, list[str]]:
        """The command that the arguments begin with, loaded, and the arguments after it."""
        name, _, rest = super().resolve_command(ctx, args)
        return name, None if name is None else load_command(name), rest


app = typer.Typer(
    name="voicelog",
    cls=_LazyGroup,
    help="A spoken training log for dog trainers: you say what happens, it keeps the log.",
    invoke_without_command=True,
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
    context: typer.Context,
    version: bool = typer.Option(
        False, "--version", callback=_version, is_eager=True, help="Say the version and stop."
    ),
) -> None:
    if context.invoked_subcommand is None:
        typer.echo(FIRST_PAGE)


def _tell_of_usage(error: Any) -> NoReturn:
    """Say what the command line lacks, or show the help of a group that was called bare."""
    if type(error).__name__ == "NoArgsIsHelpError":
        error.show()
    else:
        typer.echo(f"voicelog: {usage_sentence(error)}", err=True)
    sys.exit(error.exit_code)


_COLLECT_AFTER = 50_000, 20, 100
"""How many more objects there have to be before garbage in circles is looked for (`gc`). What a
command loads stays until it ends, and going through it again and again took a third of its time
on a long log."""


def main() -> None:
    """Run the command line; never shows a traceback for what the user can mend."""
    gc.set_threshold(*_COLLECT_AFTER)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")  # file names need not be Unicode
    bare = sys.stdout, sys.stderr
    sys.stdout, sys.stderr = (cast(TextIO, PlainStream(stream)) for stream in bare)
    try:
        code = app(prog_name="voicelog", standalone_mode=False)
        sys.exit(code if isinstance(code, int) else 0)
    except typer.Abort:
        typer.echo("voicelog: stopped; what was kept before is safe.", err=True)
        sys.exit(1)
    except KeyboardInterrupt:
        typer.echo("voicelog: stopped; what was kept before is safe.", err=True)
        sys.exit(1)
    except OSError as error:
        if error.errno not in (errno.EPIPE, errno.EIO):
            raise
        # The reader of our output went away, or its terminal was closed; that is its right.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(1)
    except Exception as error:
        if is_usage_error(error):
            _tell_of_usage(error)
        # The model takes longer to load than all of --help, and is there if it raised this.
        from voicelog.model import VoicelogError

        if not isinstance(error, VoicelogError):
            raise
        typer.echo(f"voicelog: {error}", err=True)
        sys.exit(error.exit_code)
    finally:
        sys.stdout, sys.stderr = bare
