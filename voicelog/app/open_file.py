"""A file about to be heard, or read where it is typed, as one command asked for it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from voicelog.app.grammars import grammar_with
from voicelog.app.heard_elsewhere import HeardSound, HeardWith, HearingOutcome
from voicelog.app.intake import HeardSoFar, Intake, RecognitionSetup, SoundFile
from voicelog.app.open_log import settings_in_force
from voicelog.app.recognizers import LoadedRecognizers, RecognitionOptions, shared_recognizers
from voicelog.app.typed_file import TYPED, TypedFile
from voicelog.grammar.grammar import Grammar
from voicelog.model import Dog, Event, Roster, UsageError, VoicelogError
from voicelog.recognition.recognizers import RecognizerChoice
from voicelog.store import Log
from voicelog.store.sound_files import sha256_of

__all__ = ["IntakeOptions", "lasting_options", "named_dogs", "open_file", "typed_at"]


@dataclass(frozen=True, slots=True)
class IntakeOptions(RecognitionOptions):
    """How the files of one command are to be taken in; the same for every process.

    `typed`: they are text. `at`: when they began, whatever they say themselves. `heard_so_far` is
    told how far a file is heard, in this process only, since a terminal has one bar. `outcome` is
    what another process heard in it; None where it is heard here.
    """

    typed: bool = False
    at: datetime | None = None
    heard_so_far: HeardSoFar | None = None
    outcome: HearingOutcome | None = None

    @property
    def heard_with(self) -> HeardWith:
        """All of them that what is heard depends on."""
        return HeardWith(self.roster, self.optional, self.listener)

    @property
    def grammar(self) -> Grammar:
        """What their words are understood by."""
        return grammar_with(self.roster, self.optional)

    @property
    def recognizers(self) -> LoadedRecognizers:
        """What their sound is heard with; see `load_recognizers` for what it raises."""
        return shared_recognizers(self.roster, self.optional, self.listener)


def open_file(
    path: Path,
    options: IntakeOptions,
    *,
    known_as: str | None = None,
    begun: Sequence[Event] = (),
) -> Intake:
    """A file on its way in. Raises as its source and `load_recognizers` do.

    For one that was cut short, `known_as` is its id in the log and `begun` its events there.
    """
    if not options.typed and (heard := _heard_elsewhere(path, options)) is not None:
        listeners = tuple(heard.known["listeners"])
        setup = RecognitionSetup(options.grammar, options.settings, options.dog, listeners)
        return Intake(heard, setup, at=options.at, begun=begun)
    if not options.typed:
        loaded = options.recognizers
        sound = SoundFile(
            path,
            loaded.recognize,
            recognizer_note=lambda: loaded.note,
            heard_so_far=options.heard_so_far or (lambda done_s, total_s: None),
        )
        setup = loaded.setup(options.settings, options.dog)
        return Intake(sound, setup, at=options.at, begun=begun)
    options = typed_at(path, options)
    day = None if options.at is None else options.at.date()
    lines = TypedFile(path, options.grammar, day=day, known_as=known_as)
    setup = RecognitionSetup(options.grammar, options.settings, options.dog, listeners=(TYPED,))
    return Intake(lines, setup, at=options.at, begun=begun, numbered=True)


def _heard_elsewhere(path: Path, options: IntakeOptions) -> HeardSound | None:
    """What another process heard in the file, where it is still that file and was heard with what
    holds now. Raises VoicelogError where it could not hear it."""
    outcome = options.outcome
    if isinstance(outcome, HeardSound):
        same = outcome.heard_with == options.heard_with and outcome.id == sha256_of(path)
        return outcome if same else None
    if outcome is not None:
        raise VoicelogError(outcome.said)
    return None


def lasting_options(
    log: Log,
    *,
    dog: Sequence[str] | None = None,
    listener: RecognizerChoice | None = None,
    optional: Sequence[str] | None = None,
    settings: Path | None = None,
    heard_so_far: HeardSoFar | None = None,
) -> IntakeOptions:
    """What the options of a work that goes on for hours ask for, by the roster and the settings
    that are in force now; only dogs of the roster may be named."""
    names = tuple(dog or ())
    return IntakeOptions(
        roster=named_dogs(log.roster(), names, strangers=False),
        settings=settings_in_force(log, settings),
        dog=names[0] if len(names) == 1 else None,
        optional=tuple(optional or ()),
        listener=listener,
        heard_so_far=heard_so_far,
    )


def typed_at(path: Path, options: IntakeOptions) -> IntakeOptions:
    """The options for the file `path`: where it is typed and its lines have times of day, those
    with the day of `at`."""
    if not options.typed or options.at is None:
        return options
    began = TypedFile(path, options.grammar).began
    if began is None:
        return options
    return replace(options, at=datetime.combine(options.at, began, options.at.tzinfo))


def named_dogs(known: Roster, names: Sequence[str], *, strangers: bool) -> Roster:
    """The roster `known`, with a default profile for each of the `names` that it does not have.

    Naming dogs takes none out: one that is named in the sound must be found there, whatever was
    expected.

    Raises:
        UsageError: one is not known, and no `strangers` are welcome, since a wrong name makes
            wrong records.
    """
    unknown = [name for name in names if known.dog(name) is None]
    if unknown and not strangers:
        have = ", ".join(dog.name for dog in known.dogs) or "none yet"
        raise UsageError(
            f"There is no dog '{unknown[0]}' on the roster, which has {have}; correct the "
            f"name, or add the dog first: voicelog dogs put {unknown[0]}."
        )
    return known.model_copy(update={"dogs": (*known.dogs, *(Dog(name=name) for name in unknown))})
