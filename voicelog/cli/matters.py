"""`voicelog matters`: what went against a dog and waits for a person, and closing it."""

from __future__ import annotations

from datetime import date
from functools import partial
from typing import Annotated, Literal

import typer

from voicelog.app.matters import (
    MatterRequest,
    close_matters,
    dogs_of_matters,
    every_matter,
    reopen_matters,
    sources_of,
)
from voicelog.app.progress import sound_links
from voicelog.cli import options
from voicelog.cli.open_catalog import opened_catalog
from voicelog.cli.output import write_output
from voicelog.report import matters_paper, paper_html, paper_text
from voicelog.report.wording.matters import after_closing_words, matter_words

__all__ = ["app"]

Ids = Annotated[
    list[str],
    typer.Argument(
        metavar="ID...", help="The id of the matter, as 'voicelog matters list' shows it."
    ),
]
Who = Annotated[str, typer.Option("--as", metavar="NAME", help="Your name.")]
Why = Annotated[str, typer.Option("--reason", metavar="TEXT", help="Why.")]

app = typer.Typer(
    help="What went wrong for a dog and stays open until a person closes it.",
    no_args_is_help=True,
    rich_markup_mode=None,
)


@app.command("list")
def show(
    dog: Annotated[
        str | None, typer.Argument(metavar="DOG", help="The dog. Default: all of them.")
    ] = None,
    output: Annotated[
        Literal["text", "html"], typer.Option("--format", help="How to lay it out.")
    ] = "text",
    file: options.OutputFile = None,
    plain: Annotated[
        bool, typer.Option("--plain", help="Text for a screen reader: no indents, ASCII marks.")
    ] = False,
    data_dir: options.DataDir = None,
) -> None:
    """List what is open, and for 90 days what was closed or corrected, and by whom.

    Example: voicelog matters list Bracken
    """
    today = date.today()
    with opened_catalog(data_dir, dog) as catalog:
        found = every_matter(catalog, dog, today)
        sources = partial(sources_of, catalog)
        if output == "html":
            link = sound_links(catalog.log)
            paper = matters_paper.build(found, today, sources)
            write_output(paper_html.render(paper, link=link), file)
        else:
            sections = matters_paper.sections_of(found, sources)
            paper = matters_paper.heading(today)
            write_output(paper_text.pieces(paper, sections, every=True, plain=plain), file)


@app.command("close")
def close(
    ids: Ids,
    who: Who,
    reason: Why,
    consulted: Annotated[
        str,
        typer.Option(
            "--consulted",
            metavar="NAME",
            help="The veterinarian or licensed behaviour professional who was asked; wanted for "
            "skin, a growl, a snap or a bite.",
        ),
    ] = "",
    data_dir: options.DataDir = None,
) -> None:
    """Close what is open, with your name and the reason. It stays visible for 90 days.

    Example: voicelog matters close 3fa1c09e --as Anna --reason "collar was wet; dried, fit checked"
    """
    with opened_catalog(data_dir, wanted=partial(dogs_of_matters, ids=ids)) as catalog:
        done = close_matters(catalog, ids, MatterRequest(who, reason, consulted))
    for one in done:
        typer.echo(f"{one.id}  {matter_words(one)}")
    if left := after_closing_words(done):
        typer.echo(left)


@app.command("reopen")
def reopen(ids: Ids, who: Who, reason: Why, data_dir: options.DataDir = None) -> None:
    """Open again what was closed, with your name and the reason.

    Example: voicelog matters reopen 3fa1c09e --as Anna --reason "it yelped at the same level"
    """
    with opened_catalog(data_dir, wanted=partial(dogs_of_matters, ids=ids)) as catalog:
        for one in reopen_matters(catalog, ids, MatterRequest(who, reason)):
            typer.echo(f"{one.id}  {matter_words(one)}")
