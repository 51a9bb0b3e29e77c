"""What there is: the log, its roster, the words, the listeners, the settings."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from voicelog.cli import options

if TYPE_CHECKING:
    from voicelog.log import Log
    from voicelog.model import Roster
    from voicelog.safety.settings import Settings

__all__ = ["known_roster", "listeners", "load_settings", "open_log", "wanted_listener", "words"]

words = typer.Typer(
    help="The words that may be spoken.", no_args_is_help=True, rich_markup_mode=None
)
listeners = typer.Typer(
    help="The listeners that hear what is said.", no_args_is_help=True, rich_markup_mode=None
)


def open_log(data_dir: Path | None) -> Log:
    """The log in the folder given, or in this user's own; made when there is none."""
    from voicelog.log import Log, default_folder

    return Log.open(data_dir or default_folder(), now=lambda: datetime.now().astimezone())


def known_roster(data_dir: Path | None) -> Roster:
    """The roster of the log, without making a log where there is none."""
    from voicelog.log import default_folder
    from voicelog.model import Roster

    folder = data_dir or default_folder()
    if not (folder / "log.sqlite3").exists():
        return Roster()
    with open_log(folder) as log:
        return log.roster()


def load_settings(path: Path | None) -> Settings:
    """The settings in a file, or the defaults."""
    from voicelog.safety.settings import Settings
    from voicelog.safety.settings_file import load_settings as load

    return load(path) if path is not None else Settings()


def wanted_listener(name: str) -> None:
    """Refuse a listener that is not there yet."""
    from voicelog.model import UsageError

    if name != "quick":
        raise UsageError(
            f"Found --listener {name}, but only the quick listener is there yet; "
            "leave the option out."
        )


@words.command("list")
def list_words(
    kind: Annotated[
        str | None, typer.Option("--kind", metavar="KIND", help="Only this kind, such as outcome.")
    ] = None,
    optional: options.OptIn = None,
    data_dir: options.DataDir = None,
) -> None:
    """List every phrase that may be spoken, by kind.

    Example: voicelog words list --kind outcome
    """
    from voicelog.grammar.grammar import Grammar
    from voicelog.model import UsageError

    grammar = Grammar.load(roster=known_roster(data_dir), optional=tuple(optional or ()))
    by_kind: dict[str, list[str]] = {}
    for form in grammar.forms:
        spoken = " ".join(part if isinstance(part, str) else "N" for part in form.parts)
        by_kind.setdefault(form.kind, []).append(spoken)
    if kind is not None and kind not in by_kind:
        raise UsageError(
            f"Found no kind '{kind}', wanted one of: {', '.join(by_kind)}; correct --kind."
        )
    for name, phrases in by_kind.items():
        if kind in (None, name):
            typer.echo(f"{name}:")
            for phrase in dict.fromkeys(phrases):
                typer.echo(f"  {phrase}")


@listeners.command("list")
def list_listeners() -> None:
    """List the listeners of this machine, the one in use first.

    Example: voicelog listeners list
    """
    from voicelog.hearing.engines import engines

    for engine in engines("en"):
        typer.echo(f"{'in use' if engine.used else 'there'}: {engine.name}")
