"""What there is: the log, its roster, the settings."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from voicelog.cli import options

if TYPE_CHECKING:
    from voicelog.model import Roster
    from voicelog.safety.settings import Settings
    from voicelog.store import Log

__all__ = [
    "SETTINGS_NAME",
    "known_roster",
    "load_settings",
    "open_log",
    "settings",
    "settings_file",
]

SETTINGS_NAME = "settings.toml"
"""The settings file in the log's folder."""


def open_log(data_dir: Path | None) -> Log:
    """The log in the folder given, or in this user's own; made when there is none."""
    from voicelog.store import Log, default_folder

    return Log.open(data_dir or default_folder(), now=lambda: datetime.now().astimezone())


def known_roster(data_dir: Path | None) -> Roster:
    """The roster of the log, without making a log where there is none."""
    from voicelog.model import Roster
    from voicelog.store import default_folder

    folder = data_dir or default_folder()
    if not (folder / "log.sqlite3").exists():
        return Roster()
    with open_log(folder) as log:
        return log.roster()


def settings_file(path: Path | None, data_dir: Path | None) -> Path | None:
    """The settings file in force: the one given, else the log's own where there is one."""
    from voicelog.store import default_folder

    if path is not None:
        return path
    own = (data_dir or default_folder()) / SETTINGS_NAME
    return own if own.exists() else None


def load_settings(path: Path | None, data_dir: Path | None, named: Sequence[str] = ()) -> Settings:
    """The settings in force, or the defaults where no file says otherwise.

    A dog's own heading must be of a dog in the log, or of one of those `named`.
    """
    from voicelog.safety.settings import Settings
    from voicelog.safety.settings_file import load_settings as load

    path = settings_file(path, data_dir)
    if path is None:
        return Settings()
    known = [dog.name for dog in known_roster(data_dir).dogs]
    return load(path, [*known, *named])


def settings(
    check: Annotated[
        bool, typer.Option("--check", help="Check the file in force, and say what it changes.")
    ] = False,
    file: options.SettingsFile = None,
    data_dir: options.DataDir = None,
) -> None:
    """Print every setting with its default, its unit and where it comes from.

    Save it as settings.toml in the log's folder, and change what you must.

    Example: voicelog settings > settings.toml
    """
    from voicelog.safety.settings import changed
    from voicelog.safety.settings_file import default_toml

    if not check:
        typer.echo(default_toml(), nl=False)
        return
    path = settings_file(file, data_dir)
    found = load_settings(file, data_dir)
    typer.echo(f"{path}: every line is good." if path else "No settings file: the defaults hold.")
    typer.echo(f"Temperature is said in {found.temperature_unit}.")
    for line in changed(found):
        typer.echo(f"Every dog: {line}")
    for name, own in found.dog.items():
        for line in changed(own):
            typer.echo(f"{name}: {line}")
