"""`voicelog learn`: how right the log is on the voices that people have read."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from typing import Annotated, Literal

import typer

from voicelog.app.learn import accuracy_paper, measure_accuracy
from voicelog.app.open_log import open_log, settings_in_force
from voicelog.cli import options
from voicelog.cli.open_catalog import warn_set_aside
from voicelog.report.paper import PaperSection
from voicelog.report.terminal_page import TerminalPage

__all__ = ["learn"]


def learn(
    output: Annotated[
        Literal["text", "json"], typer.Option("--format", help="How to lay it out.")
    ] = "text",
    plain: Annotated[
        bool, typer.Option("--plain", help="Text for a screen reader: no indents.")
    ] = False,
    settings: options.SettingsFile = None,
    data_dir: options.DataDir = None,
) -> None:
    """Say how accurate the log is, and which words are mistaken for others, from corrections.

    It needs 200 entries that people have reviewed on the page (the setting learn_entries), and then
    says what you can do about the words that go wrong.

    Example: voicelog learn --format json
    """
    with open_log(data_dir) as log:
        warn_set_aside(log)
        rules = settings_in_force(log, settings)
        learned = measure_accuracy(log)
        paper = accuracy_paper(log, learned, rules)
    if output == "text" and paper.missing:
        typer.echo(paper.missing)
    elif output == "json":
        typer.echo(learned.model_dump_json(indent=2))
    else:
        _print(paper.sections, plain=plain)


# --- the report ---------------------------------------------------------------------------


def _print(sections: Sequence[PaperSection], *, plain: bool) -> None:
    page = TerminalPage(sys.stdout.isatty() and not plain)
    for section in sections:
        page.gap()
        page.put("", section.title.upper())
        for line in section.lines:
            label = f"{line.label}: " if line.label else ""
            page.put_hanging("few" if line.few else "", "", f"{label}{line.words}")
        if section.note:
            page.put("", f"({section.note})")
    typer.echo("\n".join(line.strip() if plain else line for line in page.lines))
