"""`voicelog words`: what may be spoken, what it becomes, and which words are too alike."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Annotated

import typer

from voicelog.app.intake import RecognizedUtterance, SoundFile
from voicelog.app.open_log import known_roster
from voicelog.app.typed_file import judge_typed
from voicelog.cli import options
from voicelog.cli.intake import intake_options
from voicelog.grammar import confusability
from voicelog.grammar.ambiguity import AmbiguousWords, ambiguous_words
from voicelog.grammar.confusability import ConfusablePair
from voicelog.grammar.grammar import Grammar
from voicelog.grammar.sound_alikes import sound_alike_readings
from voicelog.model import Phrase, UsageError
from voicelog.model.phrases import phrase_slots
from voicelog.recognition.vosk_models import vosk_model_for
from voicelog.report.state_words import status_word
from voicelog.report.words import clock

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
    grammar = _grammar(data_dir, optional)
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


@app.command("check")
def check(optional: options.OptIn = None, data_dir: options.DataDir = None) -> None:
    """Find words that sound too alike, that a listener does not know, or that say two things.

    Names and cues are those of the roster; for each a better word is proposed. Words of the
    grammar are listed where a slip of the ear would make another note of them: those are
    asked more of when they are heard.

    Example: voicelog words check
    """
    grammar = _grammar(data_dir, optional)
    model = vosk_model_for(grammar.language)
    _section(
        "Names and cues that sound like something else",
        map(_name_line, confusability.confusable_names(grammar)),
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
            (_unknown_line(grammar, word) for word in grammar.vocabulary if word not in known),
        )
    _section("Phrases that say two things", map(_two_ways_line, ambiguous_words(grammar)))
    _section(
        "Words of the grammar that make another note of each other",
        map(_word_line, confusability.confusable_words(grammar, grammar.roster.top_level)),
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


def _name_line(one: ConfusablePair) -> str:
    like = "is a word of the grammar too" if one.said == one.other else f"sounds like {one.other}"
    mistaken = f', and "{one.notes[0]}" may be taken for "{one.notes[1]}"' if one.notes else ""
    instead = f"; for the log, call it {_or(one.better)}" if one.better else ""
    if one.role == "cue" and one.better:
        instead = f"; a safer cue: {_or(one.better)}"
    return f"{one.role} {one.said}: {like}{mistaken}{instead}"


def _word_line(one: ConfusablePair) -> str:
    assert one.notes is not None  # words are listed only where they make another note
    instead = f"; for the first, {_or(one.better)} says the same" if one.better else ""
    return f"{one.notes[0]} / {one.notes[1]}{instead}"


def _unknown_line(grammar: Grammar, word: str) -> str:
    instead = confusability.phrases_without_word(grammar, word)
    return f"{word}: say {_or(instead)}" if instead else f"{word}: nothing else says the same"


def _two_ways_line(one: AmbiguousWords) -> str:
    first, *others = (" | ".join(_meaning(phrase) for phrase in way) for way in one.meanings)
    return f'"{one.words}" is taken as {first}; it could be {_or(others)}'


def _or(words: Sequence[str]) -> str:
    *most, last = words
    return f"{', '.join(most)} or {last}" if most else last


def _meaning(phrase: Phrase) -> str:
    """A phrase, its kind, and of its values what the words do not say themselves."""
    told = [
        str(value) if name in ("do", "class", "cue_by", phrase.kind) else f"{name} {value}"
        for name, value in phrase_slots(phrase).items()
        if name != "word" and f" {value} ".casefold() not in f" {phrase.words} "
    ]
    return f"{phrase.words} ({': '.join(filter(None, (phrase.kind, ', '.join(told))))})"


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
    lines = _typed_lines(grammar, what)
    if spoken:
        source = SoundFile(path, wanted.recognizers.recognize)
        lines = _spoken_lines(grammar, source.heard())
    for line in lines:
        typer.echo(line)


def _typed_lines(grammar: Grammar, text: str) -> Iterator[str]:
    status, reading, others = judge_typed(grammar, text)
    if status == "rejected":
        yield f'"{reading}" is no note, and no note lies near.'
        return
    yield f'{status_word(status)}: "{reading}"'
    if status == "doubtful":
        yield "  not a note as it stands; the nearest, to check"
    yield from _meaning_lines(grammar, reading)
    yield from (f'  or "{other}"' for other in others)
    alike = sound_alike_readings(grammar, reading, grammar.roster.top_level)
    yield from (f'  spoken, it sounds like "{other}", so more is asked of it' for other in alike)


def _spoken_lines(grammar: Grammar, heard: Iterable[RecognizedUtterance]) -> Iterator[str]:
    count = 0
    for utterance, readings, verdict in heard:
        count += 1
        said = f': "{verdict.words}"' if verdict.status != "rejected" else ""
        span = f"{clock(utterance.start_s)} to {clock(utterance.end_s)}"
        yield f"{span}  {status_word(verdict.status)}{said}"
        for reading in readings:
            words = f'"{reading.words}"' if reading.words else "nothing"
            yield f"  {reading.who} heard {words}, sure to {reading.confidence:.0%}"
        if verdict.status != "rejected":
            yield from _meaning_lines(grammar, verdict.words)
            yield from (f'  or "{other}"' for other in verdict.alternatives)
    if not count:
        yield "No speech was found in it."


def _meaning_lines(grammar: Grammar, reading: str) -> Iterator[str]:
    meanings = grammar.meanings(reading)
    for phrase in meanings[0] if meanings else ():
        yield f"  {_meaning(phrase)}"
    for other in meanings[1:]:
        yield f"  it could also be: {' | '.join(map(_meaning, other))}"


def _grammar(data_dir: Path | None, optional: list[str] | None) -> Grammar:
    return Grammar.load(roster=known_roster(data_dir), optional=tuple(optional or ()))
