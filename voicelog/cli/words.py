"""`voicelog words`: what may be spoken, what it becomes, and which words are too alike."""

from __future__ import annotations

from typing import Annotated

import typer

from voicelog.cli import options
from voicelog.cli.lists import known_roster

__all__ = ["app"]

app = typer.Typer(help="The words that may be spoken.", no_args_is_help=True, rich_markup_mode=None)


@app.command("list")
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
