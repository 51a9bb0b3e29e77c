"""`voicelog words`: what may be spoken, what it becomes, and which words are too alike."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from voicelog.app.grammars import grammar_with
from voicelog.app.open_log import known_roster
from voicelog.app.vocabulary import MANY_LEVELS, checked_vocabulary, phrases_by_kind
from voicelog.cli import options
from voicelog.model import UsageError
from voicelog.report.phrase_card import phrase_card
from voicelog.report.vocabulary_words import (
    many_levels_words,
    spoken_lines,
    typed_lines,
)

__all__ = ["app"]

app = typer.Typer(help="The words that may be spoken.", no_args_is_help=True, rich_markup_mode=None)


@app.command("list")
def list_words(
    kind: Annotated[
        str | None, typer.Option("--kind", metavar="KIND", help="Only this kind, such as outcome.")
    ] = None,
    optional: options.OptIn = None,
    own: options.OwnGrammar = None,
    data_dir: options.DataDir = None,
) -> None:
    """List every phrase that may be spoken, by kind.

    Example: voicelog words list --kind outcome
    """
    grammar = grammar_with(known_roster(data_dir), tuple(optional or ()), own)
    by_kind = phrases_by_kind(grammar)
    if kind is not None and kind not in by_kind:
        raise UsageError(
            f"Found no kind '{kind}', wanted one of: {', '.join(by_kind)}; correct --kind."
        )
    for name, phrases in by_kind.items():
        if kind in (None, name):
            typer.echo(f"{name}:")
            for phrase in phrases:
                typer.echo(f"  {phrase}")
            for rule in grammar.sampled:
                if rule.startswith(f"{name}."):
                    typer.echo(f"  <{rule}> can be said in more ways: each of its words is above.")


@app.command("card")
def card(optional: options.OptIn = None, data_dir: options.DataDir = None) -> None:
    """Print the phrase card: one page of all that may be said, with your dogs' own words.

    Example: voicelog words card > card.md
    """
    roster = known_roster(data_dir)
    card = phrase_card(grammar_with(roster, tuple(optional or ())), roster.dogs)
    typer.echo(card, nl=False)


@app.command("check")
def check(
    optional: options.OptIn = None,
    own: options.OwnGrammar = None,
    data_dir: options.DataDir = None,
) -> None:
    """Find words that sound too alike, that a listener does not know, or that can mean two things.

    Names and cues are those of the roster; for each a better word is proposed. Words of the
    grammar are listed where one misheard sound makes another note of them; to be sure, they
    must be heard more clearly.

    Example: voicelog words check
    """
    grammar = grammar_with(known_roster(data_dir), tuple(optional or ()), own)
    for title, lines in checked_vocabulary(grammar):
        typer.echo(f"{title}:{' none.' if not lines else ''}")
        for line in lines:
            typer.echo(f"  {line}")
    if grammar.numbers("numbers.level") and grammar.roster.top_level > MANY_LEVELS:
        typer.echo(many_levels_words(grammar.roster.top_level))


@app.command("try")
def try_words(
    what: Annotated[
        str, typer.Argument(metavar="WORDS|FILE", help="Words as typed, or a recording.")
    ],
    dog: options.DogNames = None,
    listener: options.ListenerOption = None,
    optional: options.OptIn = None,
    own: options.OwnGrammar = None,
    data_dir: options.DataDir = None,
) -> None:
    """Show what a typed or spoken phrase becomes. Nothing is kept.

    For a recording it shows every stretch of speech: what each listener heard, how sure it was, the
    verdict, and what the words mean. With --grammar, words and recordings may be of another trade;
    a log takes only the words that ship.

    Example: voicelog words try "level free came"
    """
    # What hears sound takes longer to load than the other two commands take in all.
    from voicelog.app.intake import SoundFile
    from voicelog.app.recognizers import load_recognizers
    from voicelog.app.typed_file import judge_typed
    from voicelog.cli.intake import intake_options

    path = Path(what)
    spoken = path.is_file()
    if not spoken and (path.suffix and " " not in what):
        raise UsageError(f"Found no file '{what}', wanted a recording or words; correct the name.")
    wanted = intake_options(
        strangers=True,
        dog=dog,
        typed=not spoken,
        listener=listener,
        at=None,
        optional=optional,
        settings=None,
        data_dir=data_dir,
    )
    grammar = grammar_with(wanted.roster, wanted.optional, own)
    if spoken:
        listening = (wanted.roster, wanted.optional, wanted.listener, own)
        loaded = wanted.recognizers if own is None else load_recognizers(*listening)
        lines = spoken_lines(grammar, SoundFile(path, loaded.recognize).heard())
    else:
        lines = typed_lines(grammar, *judge_typed(grammar, what))
    for line in lines:
        typer.echo(line)
