"""The careful listener: Whisper in a process of its own.

Its libraries, its memory and a crash of it stay there: the log goes on with the quick
listener when it is gone. Questions go through a pipe, one at a time.
"""

from __future__ import annotations

import signal
from collections.abc import Sequence
from multiprocessing import get_context
from multiprocessing.connection import Connection
from typing import Any, Protocol

from voicelog.grammar.grammar import Grammar
from voicelog.grammar.written import beginning, example
from voicelog.hearing.listener import Sound
from voicelog.hearing.models import ModelError, WhisperModel
from voicelog.hearing.packaged import packaged_whisper, verify
from voicelog.hearing.posteriors import Posteriors, packaged_layer
from voicelog.hearing.transcript import Lead, Line, Weight
from voicelog.model import VoicelogError

__all__ = ["ALONE", "Careful", "CarefulListener", "CarefulStoppedError", "lead_for"]

MOST = 100
"""Numbers up to this may be written, or up to the transmitter's top."""
PATIENCE_S = 60.0
"""An answer takes a third of a second; after so long (s) none will come."""


ALONE = "Until then the quick listener hears alone."
"""What to say after what is wrong with the careful listener, where hearing goes on."""


class CarefulStoppedError(VoicelogError):
    """The careful listener's process is gone, or gives no answer."""

    def __init__(self) -> None:
        super().__init__(
            "Found the careful listener stopped, wanted an answer from it; hear the sound again "
            "later (voicelog rehear), or now with --listener quick."
        )


class CarefulListener(Protocol):
    """Attends to a segment, and then answers questions about it."""

    @property
    def name(self) -> str:
        """Engine, version and model; goes into `who`."""

    @property
    def tells_phones(self) -> bool:
        """Whether `phones` has an answer."""

    def attend(self, *sounds: Sound) -> None:
        """Take in a segment, as it is and in other ways; what is asked then is about it."""

    def phones(self) -> Posteriors | None:
        """How likely each phone is at each 20 ms of the segment, on average over the ways it was
        given; None where it cannot tell."""

    def held(self) -> tuple[Line, ...]:
        """What the segment says in the grammar's words alone, likeliest first."""

    def free(self) -> Line:
        """What the segment says in any words."""

    def weigh(self, texts: Sequence[str]) -> tuple[Weight, ...]:
        """What it thinks of each text for the segment."""


def lead_for(grammar: Grammar, top_level: int | None = None) -> Lead:
    """What a careful listener is told of a grammar and the transmitter's top level."""
    return Lead(
        words=grammar.vocabulary,
        numbers=tuple(n for n in grammar.numerals if int(n) <= max(MOST, top_level or 0)),
        example=example(grammar),
        beginning=beginning(grammar),
        language=grammar.language.casefold().replace("_", "-").partition("-")[0] or "en",
    )


class Careful:
    """A careful listener for a grammar, in a process that starts with it.

    Raises ModelError when its model cannot be used, CarefulStoppedError once it is gone.
    """

    def __init__(self, grammar: Grammar, model: WhisperModel, top_level: int | None = None) -> None:
        lead = lead_for(grammar, top_level)
        context = get_context("spawn")
        self._pipe, theirs = context.Pipe()
        self._process = context.Process(
            target=_serve, args=(theirs, model, lead), name="voicelog careful listener", daemon=True
        )
        self._process.start()
        theirs.close()
        self._attending = False
        self.name, self.tells_phones = self._answer()

    def attend(self, *sounds: Sound) -> None:
        """Take in a segment, without waiting; what is asked then is about it."""
        self._attended()
        self._send("attend", *sounds)
        self._attending = True

    def phones(self) -> Posteriors | None:
        """How likely each phone is at each 20 ms of the segment, on average over the ways it was
        given; None where it cannot tell."""
        found: Posteriors | None = self._ask("phones")
        return found

    def held(self) -> tuple[Line, ...]:
        """What the segment says in the grammar's words alone, likeliest first."""
        found: tuple[Line, ...] = self._ask("held")
        return found

    def free(self) -> Line:
        """What the segment says in any words."""
        found: Line = self._ask("free")
        return found

    def weigh(self, texts: Sequence[str]) -> tuple[Weight, ...]:
        """What it thinks of each text for the segment."""
        found: tuple[Weight, ...] = self._ask("weigh", tuple(texts))
        return found

    def close(self) -> None:
        """Stop the process; the listener is of no use afterwards."""
        self._pipe.close()
        self._process.terminate()
        self._process.join(5.0)

    def _ask(self, question: str, *about: object) -> Any:
        self._attended()
        self._send(question, *about)
        return self._answer()

    def _attended(self) -> None:
        if self._attending:
            self._attending = False
            self._answer()

    def _send(self, question: str, *about: object) -> None:
        try:
            self._pipe.send((question, about))
        except OSError as problem:
            raise CarefulStoppedError from problem

    def _answer(self) -> Any:
        try:
            if not self._pipe.poll(PATIENCE_S):
                self._process.kill()
                raise CarefulStoppedError
            answer = self._pipe.recv()
        except (EOFError, OSError) as problem:
            raise CarefulStoppedError from problem
        if isinstance(answer, Exception):
            raise answer
        return answer


def _serve(pipe: Connection, model: WhisperModel, lead: Lead) -> None:
    """Answer questions until nobody asks any more."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        from voicelog.hearing.whisper import Whisper

        layer = None
        if model == packaged_whisper():
            verify(model.folder)
            layer = packaged_layer()
        whisper = Whisper(model, lead, layer)
        pipe.send((whisper.name, whisper.tells_phones))
        while True:
            question, about = pipe.recv()
            pipe.send(getattr(whisper, question)(*about))
    except ModelError as problem:
        pipe.send(problem)
    except (EOFError, OSError):
        return  # nobody asks any more
    except Exception as problem:  # the engine raises nothing more exact
        pipe.send(
            ModelError(
                f"Found a Whisper model in '{model.folder}' that cannot be used ({problem}), "
                "wanted a whole one; install the model again."
            )
        )
