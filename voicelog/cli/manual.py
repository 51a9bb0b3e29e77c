"""`voicelog manual`: the documents that ship with the program, in the browser, offline."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from voicelog.app.manual import manual_folder, write_manual
from voicelog.cli.browser import open_in_browser

__all__ = ["manual"]


def manual(
    folder: Annotated[
        Path | None,
        typer.Option(
            "--folder", metavar="FOLDER", help="Where to write it. Default: this user's cache."
        ),
    ] = None,
    browser: Annotated[
        bool, typer.Option("--browser/--no-browser", help="Open it in the browser.")
    ] = True,
) -> None:
    """Open the manual, which ships with voicelog, in the browser. No network is needed.

    Example: voicelog manual
    """
    first = write_manual(folder or manual_folder())
    typer.echo(f"The manual is in {first}.")
    if browser:
        open_in_browser(first.as_uri())
