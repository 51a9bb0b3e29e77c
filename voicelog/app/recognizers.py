"""What sound is heard with: the one place where grammar and recognizers are put together.

A file, a kept recording heard again, the sound check, the reading card and the live session (in
its child process) all hear with what `load_recognizers` makes.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from voicelog.app.grammars import grammar_with
from voicelog.app.intake import RecognitionSetup, RecognizedUtterance
from voicelog.audio.resampling import Samples
from voicelog.grammar.grammar import Grammar, RecognitionContext
from voicelog.model import Roster
from voicelog.recognition.quick_recognizer import QuickRecognizer
from voicelog.recognition.recognize import Recognizers, recognize
from voicelog.recognition.recognizers import RecognizerChoice, make_quick, make_recognizers
from voicelog.safety.settings import Settings

__all__ = [
    "LoadedRecognizers",
    "RecognitionOptions",
    "context_of",
    "load_quick",
    "load_recognizers",
    "shared_recognizers",
]


@dataclass(frozen=True, slots=True)
class RecognitionOptions:
    """What was asked for of anything that is to be heard.

    `dog` is the one worked until another is named; `optional` names opt-in grammars; `listener`
    says which recognizers listen (None: both where both are there).
    """

    roster: Roster
    settings: Settings
    dog: str | None = None
    optional: tuple[str, ...] = ()
    listener: RecognizerChoice | None = None


@dataclass(frozen=True, slots=True)
class LoadedRecognizers:
    """A grammar, what its roster lets one expect, and the recognizers for both."""

    grammar: Grammar
    context: RecognitionContext
    recognizers: Recognizers

    @property
    def note(self) -> str | None:
        """What the user must know: the careful recognizer cannot be used, or has stopped; else
        None."""
        return self.recognizers.note

    def recognize(
        self,
        blocks: Iterable[Samples],
        recording: str,
        *,
        talking: Callable[[bool], None] = lambda now: None,
        at_leisure: Callable[[], bool] = lambda: False,
        undecided: Callable[[RecognizedUtterance], None] = lambda heard: None,
    ) -> Iterator[RecognizedUtterance]:
        """What is said in blocks of sound (float32 mono, 16 kHz) of the recording of that id, in
        order; see `voicelog.recognition.recognize.recognize`."""
        return recognize(
            blocks,
            self.recognizers,
            self.grammar,
            self.context,
            recording,
            talking=talking,
            at_leisure=at_leisure,
            undecided=undecided,
        )

    def setup(self, settings: Settings, dog: str | None = None) -> RecognitionSetup:
        """What is copied into a recording that is heard with these."""
        return RecognitionSetup(
            grammar=self.grammar, settings=settings, dog=dog, listeners=self.recognizers.names
        )


def context_of(roster: Roster) -> RecognitionContext:
    """What a roster lets one expect: no level above the highest that one of its transmitters
    has."""
    return RecognitionContext(top_level=roster.top_level)


def load_recognizers(
    roster: Roster,
    optional: tuple[str, ...] = (),
    listener: RecognizerChoice | None = None,
    folder: Path | None = None,
) -> LoadedRecognizers:
    """Recognizers of their own for a roster, opt-in grammars and the passes asked for, for the
    grammar that ships or that of a user's own `folder`.

    Loading models takes a second or more.

    Raises:
        GrammarError: there is no opt-in grammar of that name, or none in the folder.
        NoRecognizerError: no quick recognizer can hear the grammar's language.
        NoCarefulError, ModelError, CarefulStoppedError: the careful recognizer was asked for by
            name, and is not there or cannot be used.
    """
    grammar, context = grammar_with(roster, optional, folder), context_of(roster)
    return LoadedRecognizers(grammar, context, make_recognizers(grammar, context, listener))


def load_quick(roster: Roster) -> QuickRecognizer:
    """The quick recognizer alone for a roster. Raises NoRecognizerError as `load_recognizers`
    does."""
    return make_quick(grammar_with(roster), context_of(roster))


@lru_cache(maxsize=1)
def shared_recognizers(
    roster: Roster, optional: tuple[str, ...] = (), listener: RecognizerChoice | None = None
) -> LoadedRecognizers:
    """The same, loaded once for all files in a row that are heard with the same in a process."""
    return load_recognizers(roster, optional, listener)
