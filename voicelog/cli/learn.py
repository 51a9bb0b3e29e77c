"""`voicelog learn`: how right the log is on the voices that people have read."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from voicelog.cli import options
from voicelog.cli.log import refreshed_session_catalog
from voicelog.cli.log_settings import load_settings, open_log

if TYPE_CHECKING:
    from voicelog.report.paper import PaperSection

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
    """Say how right the log is, and which words are taken for others, from what was corrected.

    It wants 200 entries that people have read at the page of 'voicelog review' (set another
    number: learn_entries), and then says what could be done about the words that go wrong.

    Example: voicelog learn --format json
    """
    from voicelog.app.rehear.accuracy import learn as learnt_from
    from voicelog.app.rehear.accuracy_text import sections, too_few
    from voicelog.app.rehear.advice import advise
    from voicelog.app.rehear.reviewed import reviews
    from voicelog.grammar.grammar import Grammar

    with open_log(data_dir) as log:
        wanted = load_settings(settings, data_dir).learn_entries
        grammar = Grammar.load(roster=log.roster())
        refreshed_session_catalog(log)
        learned = learnt_from(reviews(log))
        missing = too_few(learned.read, wanted)
        if output == "text" and missing:
            typer.echo(missing)
        elif output == "json":
            typer.echo(learned.model_dump_json(indent=2))
        else:
            _print(sections(learned, advise(learned.confusions, grammar)), plain=plain)


# --- the report ---------------------------------------------------------------------------


def _print(sections: Sequence[PaperSection], *, plain: bool) -> None:
    from voicelog.report.terminal_page import TerminalPage

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
