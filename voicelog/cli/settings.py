"""`voicelog settings`: every setting, and whether the file in force is good."""

from __future__ import annotations

from typing import Annotated

import typer

from voicelog.app.open_log import load_settings, settings_path
from voicelog.cli import options
from voicelog.safety.settings import changed
from voicelog.safety.settings_file import default_toml

__all__ = ["settings"]


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
    if not check:
        typer.echo(default_toml(), nl=False)
        return
    path = settings_path(file, data_dir)
    found = load_settings(file, data_dir)
    typer.echo(f"{path}: every line is good." if path else "No settings file: the defaults hold.")
    typer.echo(f"Temperature is said in {found.temperature_unit}.")
    for line in changed(found):
        typer.echo(f"Every dog: {line}")
    for name, own in found.dog.items():
        for line in changed(own):
            typer.echo(f"{name}: {line}")
