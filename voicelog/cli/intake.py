"""Take files in, one or several at a time, whatever comes of each.

A file that fails is named and passed by; the others go on.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass
from datetime import datetime
from multiprocessing import get_context
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import typer

if TYPE_CHECKING:
    from voicelog.app.pipeline import Intake, RecognitionSetup, Recognize, RecognizedUtterance
    from voicelog.audio.resampling import Samples
    from voicelog.grammar.grammar import Grammar, RecognitionContext
    from voicelog.model import Event, Roster
    from voicelog.recognition.recognize import Recognizers
    from voicelog.recognition.recognizers import PassChoice
    from voicelog.safety.settings import Settings

__all__ = [
    "IntakeOptions",
    "each",
    "grammar_for",
    "intake_note",
    "intake_options",
    "open_intake",
    "recognizer_for",
]

Item = TypeVar("Item")
Result = TypeVar("Result")


@dataclass(frozen=True, slots=True)
class IntakeOptions:
    """How the files of one command are to be heard; the same for every process."""

    roster: Roster
    settings: Settings
    dog: str | None = None
    optional: tuple[str, ...] = ()
    typed: bool = False
    at: datetime | None = None
    listener: PassChoice | None = None


def intake_options(
    *,
    strangers: bool,
    dog: Sequence[str] | None,
    typed: bool,
    listener: PassChoice | None,
    at: str | None,
    optional: Sequence[str] | None,
    settings: Path | None,
    data_dir: Path | None,
) -> IntakeOptions:
    """The order that a command's options make; `strangers` as in `roster_for`."""
    from voicelog.app.open_log import known_roster, load_settings
    from voicelog.cli.options import moment

    names = tuple(dog or ())
    return IntakeOptions(
        roster=roster_for(known_roster(data_dir), names, strangers=strangers),
        settings=load_settings(settings, data_dir, names),
        dog=names[0] if len(names) == 1 else None,
        optional=tuple(optional or ()),
        typed=typed,
        at=moment(at),
        listener=listener,
    )


def roster_for(known: Roster, names: Sequence[str], *, strangers: bool) -> Roster:
    """The dogs named, or all of the log's when none is.

    One that the log does not know gets a default profile where `strangers` are welcome;
    else it is refused (UsageError), since a wrong name makes wrong records.
    """
    from voicelog.model import Dog, Roster, UsageError

    if not names:
        return known
    unknown = [name for name in names if known.dog(name) is None]
    if unknown and not strangers:
        have = ", ".join(dog.name for dog in known.dogs) or "none yet"
        raise UsageError(
            f"Found no dog '{unknown[0]}' on the roster, wanted one of it ({have}); correct the "
            f"name, or add the dog first: voicelog dogs put {unknown[0]}."
        )
    dogs = tuple(known.dog(name) or Dog(name=name) for name in names)
    return Roster(dogs=dogs, handlers=known.handlers)


@dataclass(frozen=True, slots=True)
class _Recognizers:
    """Grammar and listeners for an order."""

    setup: RecognitionSetup
    ears: Recognizers | None


_recognizers: tuple[IntakeOptions, _Recognizers] | None = None


def _recognizers_for(order: IntakeOptions) -> _Recognizers:
    """The station for an order, made once in each process: models take a while to load."""
    global _recognizers
    if _recognizers is None or _recognizers[0] != order:
        _recognizers = (order, _make(order))
    return _recognizers[1]


def _make(order: IntakeOptions) -> _Recognizers:
    from voicelog.app.pipeline import TYPED, RecognitionSetup
    from voicelog.grammar.grammar import Grammar

    grammar = Grammar.load(roster=order.roster, optional=order.optional)
    ears: Recognizers | None = None
    if not order.typed:
        from voicelog.recognition.recognizers import make_recognizers

        ears = make_recognizers(grammar, narrowing_for(order), order.listener)
    names = ears.names if ears else (TYPED,)
    setup = RecognitionSetup(
        grammar=grammar, settings=order.settings, dog=order.dog, listeners=names
    )
    return _Recognizers(setup, ears)


def narrowing_for(order: IntakeOptions) -> RecognitionContext:
    """What the order's dogs let one expect."""
    from voicelog.grammar.grammar import RecognitionContext

    return RecognitionContext(top_level=order.roster.top_level)


def grammar_for(order: IntakeOptions) -> Grammar:
    """The grammar that an order is heard with."""
    return _recognizers_for(order).setup.grammar


def open_intake(
    path: Path, order: IntakeOptions, *, known_as: str | None = None, begun: Sequence[Event] = ()
) -> Intake:
    """A file about to be heard, or read where it is typed. Raises as its source does.

    For one that was cut short, `known_as` is its id in the log and `begun` its events there.
    """
    from voicelog.app.pipeline import Intake, SoundFile, TypedFile

    setup = _recognizers_for(order).setup
    if not order.typed:
        return Intake(SoundFile(path, recognizer_for(order)), setup, at=order.at, begun=begun)
    day = None if order.at is None else order.at.date()
    source = TypedFile(path, setup.grammar, day=day, known_as=known_as)
    if known_as is None:
        source.check_names()
    return Intake(source, setup, at=order.at, begun=begun)


def intake_note(intake: Intake, order: IntakeOptions) -> str | None:
    """What the user must know of a file that was heard: sound missing, a listener lost."""
    ears = _recognizers_for(order).ears
    notes = [note for note in (intake.note, ears.note if ears else None) if note]
    return " ".join(notes) or None


def recognizer_for(order: IntakeOptions) -> Recognize:
    """How blocks of sound are heard for an order."""
    station = _recognizers_for(order)

    def hear(blocks: Iterable[Samples], recording: str) -> Iterator[RecognizedUtterance]:
        from voicelog.recognition.recognize import recognize as listen

        grammar = station.setup.grammar
        assert station.ears is not None, "typed files are not heard"
        return listen(blocks, station.ears, grammar, narrowing_for(order), recording)

    return hear


def each(
    items: Sequence[Item],
    work: Callable[[Item], Result],
    jobs: int,
    name: Callable[[Item], str] = lambda item: Path(str(item)).name,
) -> Iterator[tuple[Item, Result | Exception]]:
    """Do `work` on every item (files, as a rule) and give the results in their order.

    Errors that the user can mend are results too. Progress goes to standard error when
    there is someone to see it.
    """
    if jobs == 1 or len(items) == 1:
        for number, item in enumerate(items, start=1):
            _progress(number, len(items), name(item))
            yield item, _attempt(work, item)
        return
    results: dict[int, Result | Exception] = {}
    with ProcessPoolExecutor(min(jobs, len(items)), mp_context=get_context("spawn")) as pool:
        futures = {pool.submit(_attempt, work, item): i for i, item in enumerate(items)}
        shown = 0
        for done, future in enumerate(as_completed(futures), start=1):
            index = futures[future]
            results[index] = future.result()
            _progress(done, len(items), name(items[index]))
            while shown in results:
                yield items[shown], results.pop(shown)
                shown += 1


def _attempt(work: Callable[[Item], Result], item: Item) -> Result | Exception:
    from voicelog.model import VoicelogError

    try:
        return work(item)
    except VoicelogError as error:
        return error


def _progress(number: int, total: int, name: str) -> None:
    if sys.stderr.isatty() and total > 1:
        typer.echo(f"{number} of {total}: {name}", err=True)
