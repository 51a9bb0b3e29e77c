"""Papers over weeks: `progress`, `plan`, `kennel`, `owner`."""

from __future__ import annotations

import sys
from datetime import date
from pathlib import Path
from typing import Annotated, Literal

import typer

from voicelog.app.progress import (
    dog_plan,
    dog_progress,
    dog_progress_json,
    dog_questions,
    kennel_overview,
    owner_pdf,
    sound_links,
)
from voicelog.cli import options
from voicelog.cli.open_catalog import opened_catalog
from voicelog.cli.output import write_file_bytes, write_output
from voicelog.model import UsageError
from voicelog.report import paper_html, paper_markdown, paper_text
from voicelog.report.paper import Paper
from voicelog.report.paper_html import Link

__all__ = ["kennel", "owner", "plan", "progress"]

DogName = Annotated[str, typer.Argument(metavar="DOG", help="The dog.")]
Form = Annotated[
    Literal["text", "html", "markdown", "json"], typer.Option("--format", help="How to lay it out.")
]
OnDay = Annotated[
    str | None,
    typer.Option("--on", metavar="DATE", help="As of this day, as 2026-04-18. Default: today."),
]
Plain = Annotated[
    bool, typer.Option("--plain", help="Text for a screen reader: no indents, ASCII marks.")
]
Every = Annotated[bool, typer.Option("--all", help="Every line, and what the words mean.")]
Reps = Annotated[bool, typer.Option("--reps", help="The reps behind each line.")]


def progress(
    dog: DogName,
    output: Form = "text",
    file: options.OutputFile = None,
    on: OnDay = None,
    every: Every = False,
    reps: Reps = False,
    plain: Plain = False,
    questions: Annotated[
        bool, typer.Option("--questions", help="Only the questions, with all their answers.")
    ] = False,
    settings: options.SettingsFile = None,
    data_dir: options.DataDir = None,
) -> None:
    """Say how a dog has done over weeks: levels, calls, times, what it is ready for.

    It also looks at a fair chance before a press, less of the button, a new place, another handler,
    after a strong sign, the end of a session, distance, rewards.

    JSON has the results of the analysis with the reps behind every number.

    Example: voicelog progress Bracken --format html --output bracken.html
    """
    today = _day(on)
    with opened_catalog(data_dir, dog) as catalog:
        if output == "json" and not questions:
            write_output(dog_progress_json(catalog, dog, today, settings), file)
            return
        made = dog_questions if questions else dog_progress
        paper = made(catalog, dog, today, settings)
        link = sound_links(catalog.log) if output == "html" else None
    _out(paper, output, file, link, every=every or questions, reps=reps, plain=plain)


def plan(
    dog: DogName,
    output: Form = "text",
    file: options.OutputFile = None,
    on: OnDay = None,
    reps: Reps = False,
    plain: Plain = False,
    settings: options.SettingsFile = None,
    data_dir: options.DataDir = None,
) -> None:
    """Plan a dog's next session, on one page. "No session today" is a normal answer.

    Example: voicelog plan Bracken
    """
    today = _day(on)
    with opened_catalog(data_dir, dog) as catalog:
        paper = dog_plan(catalog, dog, today, settings)
        link = sound_links(catalog.log) if output == "html" else None
    _out(paper, output, file, link, every=True, reps=reps, plain=plain)


def kennel(
    output: Form = "text",
    file: options.OutputFile = None,
    on: OnDay = None,
    reps: Reps = False,
    plain: Plain = False,
    settings: options.SettingsFile = None,
    data_dir: options.DataDir = None,
) -> None:
    """Show all dogs: what to see first, which were worked, not lately, or are stuck.

    Example: voicelog kennel
    """
    today = _day(on)
    with opened_catalog(data_dir) as catalog:
        paper = kennel_overview(catalog, today, settings)
        link = sound_links(catalog.log) if output == "html" else None
    _out(paper, output, file, link, every=True, reps=reps, plain=plain)


def owner(
    dog: DogName,
    file: Annotated[Path, typer.Option("--output", "-o", metavar="FILE", help="The PDF to write.")],
    ring: Annotated[
        str,
        typer.Option(
            "--ring", metavar="WORDS", help="Who the owner may call: a name and a number."
        ),
    ] = "",
    collar: Annotated[
        Literal["home", "stays"] | None,
        typer.Option(
            "--collar", help="Whether the collar goes home; left out, the report does not say."
        ),
    ] = None,
    on: OnDay = None,
    settings: options.SettingsFile = None,
    data_dir: options.DataDir = None,
) -> None:
    """Write the owner's report, two pages in plain words, as PDF. It names no level to set.

    Example: voicelog owner Bracken --output bracken.pdf --ring "Anna, 555 0100"
    """
    today = _day(on)
    with opened_catalog(data_dir, dog) as catalog:
        name, content = owner_pdf(catalog, dog, today, settings, ring=ring, collar=collar)
    write_file_bytes(content, file)
    typer.echo(f"Two pages on {name} written to {file}.")


# --- within ----------------------------------------------------------------------------


def _out(
    paper: Paper,
    output: str,
    file: Path | None,
    link: Link | None,
    *,
    every: bool,
    reps: bool,
    plain: bool,
) -> None:
    if output != "text" and plain:
        raise UsageError(
            f"Found --plain with --format {output}, wanted it with text; leave one of them out."
        )
    if output == "json":
        write_output(paper.model_dump_json(indent=2) + "\n", file)
    elif output == "html":
        write_output(paper_html.render(paper, link=link), file)
    elif output == "markdown":
        write_output(paper_markdown.render(paper, reps=reps, every=every), file)
    else:
        colour = file is None and not plain and sys.stdout.isatty()
        text = paper_text.render(paper, colour=colour, plain=plain, reps=reps, every=every)
        write_output(text, file)


def _day(text: str | None) -> date:
    return options.day_of(text, "--on") or date.today()
