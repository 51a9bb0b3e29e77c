"""`voicelog questions`: the reps of which something is missing or cannot be so, and answering."""

from __future__ import annotations

from datetime import datetime
from functools import partial
from typing import Annotated

import typer

from voicelog.app.review.session_questions import answer_rep, session_questions
from voicelog.app.session_choice import dogs_of_last_day
from voicelog.app.unknown_names import answer_name, strange_names
from voicelog.app.waiting_sessions import waiting_elsewhere
from voicelog.cli import options
from voicelog.cli.open_catalog import changes_told, opened_catalog
from voicelog.model import UsageError
from voicelog.report.correct_words import also_waits_words, signed_words
from voicelog.report.wording.rep_questions import questions_text
from voicelog.report.wording.unknown_names import strange_name_lines

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
    name: Annotated[
        str | None,
        typer.Option("--name", metavar="WORD", help="A name that the log does not know."),
    ] = None,
    is_: Annotated[
        str | None, typer.Option("--is", metavar="NAME", help="The dog, handler or cue that it is.")
    ] = None,
    who: Annotated[
        str | None,
        typer.Option(
            "--as", metavar="NAME", help="Who answers. Default: the only handler, else this user."
        ),
    ] = None,
    data_dir: options.DataDir = None,
) -> None:
    """Ask about reps with something missing or impossible, and take your answers.

    It also asks, once for each, about names of dogs, handlers and cues that the log does not know.
    An answer is kept like any correction: the page shows it, and you can undo it.

    Example: voicelog questions Bracken --rep 2 --answer "line help"
    """
    if (rep is None) != (answer is None):
        raise UsageError("--rep and --answer belong together; say for which rep, and how it was.")
    if (name is None) != (is_ is None) or (name is not None and rep is not None):
        raise UsageError(
            "--name and --is belong together, without --rep; say which name, and whose it is."
        )
    on = options.day_of(day)
    whole = every or name is not None
    last = None if whole else partial(dogs_of_last_day, day=on)
    with opened_catalog(data_dir, None if name is not None else dog, last) as catalog:
        by = options.signer(who, catalog.log.roster().handlers)
        if name is not None and is_ is not None:
            at = datetime.now().astimezone
            with changes_told(catalog):
                told = answer_name(catalog, name, is_, by, at)
                typer.echo("\n".join((*told, signed_words(by))))
                catalog.refresh()
            return
        found = session_questions(catalog, dog, on, every=every)
        if rep is None or answer is None:
            typer.echo(questions_text([row for one in found for row in one.rows]))
            for line in strange_name_lines(strange_names(catalog)):
                typer.echo(line)
            shown = {one.key: len(one.asked) for one in found}
            for line in also_waits_words(waiting_elsewhere(catalog, shown)):
                typer.echo(line)
            return
        changed = answer_rep(catalog, found, rep, answer, by, datetime.now().astimezone)
        typer.echo("\n".join((*changed, signed_words(by))))
