"""`voicelog words`: what may be spoken, what it becomes, and which words are too alike."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Annotated

import typer

from voicelog.app.grammars import grammar_with
from voicelog.app.open_log import known_roster
from voicelog.cli import options
from voicelog.grammar import confusability
from voicelog.grammar.ambiguity import ambiguous_words
from voicelog.model import UsageError
from voicelog.recognition.vosk_models import vosk_model_for
from voicelog.report.phrase_card import phrase_card
from voicelog.report.vocabulary_words import (
    name_line,
    spoken_lines,
    two_ways_line,
    typed_lines,
    unknown_line,
    word_line,
)

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
    grammar = grammar_with(known_roster(data_dir), tuple(optional or ()))
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
            for rule in grammar.sampled:
                if rule.startswith(f"{name}."):
                    typer.echo(f"  <{rule}> can be said in more ways: each of its words is above.")


@app.command("card")
def card(optional: options.OptIn = None, data_dir: options.DataDir = None) -> None:
    """Print the phrase card: one page of all that may be said, with your dogs' own words.

    Example: voicelog words card > card.md
    """
    typer.echo(phrase_card(grammar_with(known_roster(data_dir), tuple(optional or ()))), nl=False)


@app.command("check")
def check(optional: options.OptIn = None, data_dir: options.DataDir = None) -> None:
    """Find words that sound too alike, that a listener does not know, or that say two things.

    Names and cues are those of the roster; for each a better word is proposed. Words of the
    grammar are listed where a mishearing would make another note of them: those are
    asked more of when they are heard.

    Example: voicelog words check
    """
    grammar = grammar_with(known_roster(data_dir), tuple(optional or ()))
    model = vosk_model_for(grammar.language)
    _section(
        "Names and cues that sound like something else",
        map(name_line, confusability.confusable_names(grammar)),
    )
    derived = confusability.derived(grammar)
    _section(
        "Words that cannot be pronounced, so that nothing can be heard while they are there",
        (f"{one.word}: spell it as it is said, in letters" for one in derived if not one.phones),
    )
    if model is None:
        _section(
            "Words sounded out by their letters, since no dictionary has them or their parts",
            (
                f"{one.word}: {' '.join(one.phones)}; if it is said otherwise, spell it so"
                for one in derived
                if one.phones and one.origin == "letters"
            ),
        )
    else:
        known = model.word_ids()
        _section(
            f"Words that the Vosk model '{model.name}' does not know, so that it never hears them",
            (
                unknown_line(word, confusability.phrases_without_word(grammar, word))
                for word in grammar.vocabulary
                if word not in known
            ),
        )
    _section("Phrases that say two things", map(two_ways_line, ambiguous_words(grammar)))
    _section(
        "Words of the grammar that make another note of each other",
        map(word_line, confusability.confusable_words(grammar, grammar.roster.top_level)),
    )
    if grammar.roster.top_level > _MANY_LEVELS:
        typer.echo(
            f"Levels go up to {grammar.roster.top_level} here. With fewer on the transmitter, say "
            "so (voicelog dogs put DOG --top N): what it cannot do is then not listened for."
        )


_MANY_LEVELS = 20


def _section(title: str, lines: Iterable[str]) -> None:
    found = list(lines)
    typer.echo(f"{title}:{' none.' if not found else ''}")
    for line in found:
        typer.echo(f"  {line}")


@app.command("try")
def try_words(
    what: Annotated[
        str, typer.Argument(metavar="WORDS|FILE", help="Words as typed, or a recording.")
    ],
    dog: options.DogNames = None,
    listener: options.ListenerOption = None,
    optional: options.OptIn = None,
    data_dir: options.DataDir = None,
) -> None:
    """Show what a typed or spoken phrase becomes. Nothing is kept.

    Of a recording, every stretch of speech is shown: what each listener heard, how sure it
    was, the verdict, and what the words mean.

    Example: voicelog words try "level free came"
    """
    # What hears sound takes longer to load than the other two commands take in all.
    from voicelog.app.intake import SoundFile
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
    grammar = wanted.grammar
    lines = typed_lines(grammar, *judge_typed(grammar, what))
    if spoken:
        source = SoundFile(path, wanted.recognizers.recognize)
        lines = spoken_lines(grammar, source.heard())
    for line in lines:
        typer.echo(line)
