"""`voicelog manual`: the manual that ships with the program, in the browser, offline."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from voicelog.app.manual import FIRST_PAGE, copy_manual
from voicelog.cli.browser import open_in_browser
from voicelog.grammar.data_folders import data_folder

__all__ = ["manual"]


def manual(
    folder: Annotated[
        Path | None,
        typer.Option("--folder", metavar="FOLDER", help="Copy it there, and open the copy."),
    ] = None,
    browser: Annotated[
        bool, typer.Option("--browser/--no-browser", help="Open it in the browser.")
    ] = True,
) -> None:
    """Open the manual, which ships with voicelog, in the browser. No network is needed.

    Example: voicelog manual
    """
    site = data_folder("manual")
    first = copy_manual(site, folder) if folder else site / FIRST_PAGE
    typer.echo(f"The manual is in {first}.")
    if browser:
        open_in_browser(first.as_uri())
