"""`voicelog questions`: the reps of which something is missing or cannot be so, and answering."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated

import typer

from voicelog.app.review.session_questions import answer_rep, session_questions
from voicelog.app.waiting_sessions import waiting_elsewhere
from voicelog.cli import options
from voicelog.cli.open_catalog import opened_catalog
from voicelog.model import UsageError
from voicelog.report.correct_words import also_waits_words
from voicelog.report.wording.rep_questions import questions_text

__all__ = ["questions"]


def questions(
    dog: Annotated[
        str | None, typer.Argument(help="One dog. Default: every dog of the last day.")
    ] = None,
    day: Annotated[
        str | None, typer.Option("--day", metavar="DATE", help="Sessions of a day, as 2026-04-18.")
    ] = None,
    every: Annotated[bool, typer.Option("--all", help="Every session.")] = False,
    rep: Annotated[
        int | None, typer.Option("--rep", min=1, metavar="N", help="The rep that you answer for.")
    ] = None,
    answer: Annotated[
        str | None,
        typer.Option("--answer", metavar="WORDS", help="How it was, as a note: 'line help'."),
    ] = None,
    who: Annotated[
        str | None,
        typer.Option("--as", metavar="NAME", help="Who answers. Default: this user's name."),
    ] = None,
    data_dir: options.DataDir = None,
) -> None:
    """Ask about reps of which something is missing or cannot be so, and take your answers.

    An answer is kept like any correction: the page shows it, and undo takes it back.

    Example: voicelog questions Bracken --rep 2 --answer "line help"
    """
    if (rep is None) != (answer is None):
        raise UsageError(
            "Found one of --rep and --answer, wanted both or none; say for which rep, and how it "
            "was."
        )
    with opened_catalog(data_dir) as catalog:
        found = session_questions(catalog, dog, options.day_of(day), every=every)
        if rep is None or answer is None:
            typer.echo(questions_text([row for one in found for row in one.rows]))
            told = {one.key: len(one.asked) for one in found}
            for line in also_waits_words(waiting_elsewhere(catalog, told)):
                typer.echo(line)
            return
        changed = answer_rep(
            catalog, found, rep, answer, options.person(who), datetime.now().astimezone
        )
        typer.echo("\n".join(changed))
