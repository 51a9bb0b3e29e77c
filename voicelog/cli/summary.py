"""`voicelog summary`: what was done in a session, beside the one before."""

from __future__ import annotations

from functools import partial
from typing import Annotated

import typer

from voicelog.app.session_choice import dogs_of_last_day
from voicelog.app.summary import session_summaries
from voicelog.cli import options
from voicelog.cli.open_catalog import opened_catalog
from voicelog.cli.output import PaperFormat, papers, write_output
from voicelog.model import UsageError
from voicelog.safety.cautions import LONG

__all__ = ["summary"]


def summary(
    dog: Annotated[
        str | None, typer.Argument(help="One dog. Default: every dog of the last day.")
    ] = None,
    day: Annotated[
        str | None, typer.Option("--day", metavar="DATE", help="Sessions of a day, as 2026-04-18.")
    ] = None,
    every: Annotated[bool, typer.Option("--all", help="Every session.")] = False,
    output: PaperFormat = "text",
    file: options.OutputFile = None,
    plain: Annotated[
        bool,
        typer.Option("--plain", help="Text for a screen reader: no columns, no plot, ASCII marks."),
    ] = False,
    cautions: Annotated[
        bool, typer.Option("--cautions", help="The cautions in full, and nothing else.")
    ] = False,
    data_dir: options.DataDir = None,
) -> None:
    """Write the summary of sessions in the log: by default the last one.

    Example: voicelog summary Bracken --format html --output bracken.html
    """
    if plain and output != "text":
        raise UsageError(
            f"Found --plain with --format {output}, wanted it with text; leave one of them out."
        )
    if cautions:
        write_output(LONG, file)
        return
    on = options.day_of(day)
    wanted = None if every else partial(dogs_of_last_day, day=on)
    with opened_catalog(data_dir, dog, wanted) as catalog:
        summaries = session_summaries(catalog, dog, on, every=every)
        write_output(papers(summaries, output, to_screen=file is None, plain=plain), file)
