"""The careful recognizer: Whisper in a process of its own.

Its libraries, its memory and a crash of it stay there: the log goes on with the quick recognizer
when it is gone. Questions go through a pipe, one at a time.
"""

from __future__ import annotations

import signal
from collections.abc import Sequence
from multiprocessing import get_context
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any, Protocol

from voicelog.audio.resampling import Samples
from voicelog.model import VoicelogError
from voicelog.recognition.phone_posteriors import PhoneLayer, Posteriors
from voicelog.recognition.teen_layer import NumberPlace
from voicelog.recognition.vosk_models import ModelError
from voicelog.recognition.whisper_model import (
    OWN_LAYER,
    WhisperModel,
    check_own_whisper_model,
    check_whisper_model,
)

__all__ = ["ALONE", "CarefulProcess", "CarefulRecognizer", "CarefulStoppedError"]

PATIENCE_S = 60.0
"""An answer takes a third of a second; after so long (s) none will come."""


ALONE = "Until then the quick listener hears alone."
"""What to say after what is wrong with the careful recognizer, where hearing goes on."""


class CarefulStoppedError(VoicelogError):
    """The careful recognizer's process is gone, or gives no answer."""

    def __init__(self) -> None:
        super().__init__(
            "Found the careful listener stopped, wanted an answer from it; hear the sound again "
            "later (voicelog rehear), or now with --listener quick."
        )


class CarefulRecognizer(Protocol):
    """Attends to a segment, and then tells the phones in it."""

    @property
    def name(self) -> str:
        """Engine, version and model; goes into `who`."""

    def load_segment(self, *sounds: Samples) -> None:
        """Take in a segment, as it is and in other ways; what is asked then is about it."""

    def phones(self) -> Posteriors:
        """How likely each phone is at each 20 ms of the segment, on average over the ways it was
        given."""

    def teen_odds(self, numbers: Sequence[NumberPlace]) -> tuple[float, ...]:
        """Of each of these numbers in the segment, ln of how likely it was said with -teen over how
        likely with -ty (nats); see teen_layer.py."""


class CarefulProcess:
    """A careful recognizer in a process that starts with it.

    Raises ModelError when its model cannot be used, CarefulStoppedError once it is gone.
    """

    def __init__(self, model: WhisperModel) -> None:
        context = get_context("spawn")
        self._pipe, theirs = context.Pipe()
        self._process = context.Process(
            target=_serve, args=(theirs, model), name="voicelog careful listener", daemon=True
        )
        self._process.start()
        theirs.close()
        self._attending = False
        self.name: str = self._answer()

    def load_segment(self, *sounds: Samples) -> None:
        """Take in a segment, without waiting; what is asked then is about it."""
        self._loaded_segment()
        self._send("load_segment", *sounds)
        self._attending = True

    def phones(self) -> Posteriors:
        """How likely each phone is at each 20 ms of the segment, on average over the ways it was
        given."""
        found: Posteriors = self._ask("phones")
        return found

    def teen_odds(self, numbers: Sequence[NumberPlace]) -> tuple[float, ...]:
        """Of each of these numbers in the segment, ln of how likely it was said with -teen over how
        likely with -ty (nats); see teen_layer.py."""
        found: tuple[float, ...] = self._ask("teen_odds", numbers)
        return found

    def close(self) -> None:
        """Stop the process; the listener is of no use afterwards."""
        self._pipe.close()
        self._process.terminate()
        self._process.join(5.0)

    def _ask(self, question: str, *about: object) -> Any:
        self._loaded_segment()
        self._send(question, *about)
        return self._answer()

    def _loaded_segment(self) -> None:
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


def _serve(pipe: Connection, model: WhisperModel) -> None:
    """Answer questions until nobody asks any more."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        # Only this process computes with it; its library is large, and an extra.
        from voicelog.recognition.trained_artifact import shipped_artifact
        from voicelog.recognition.whisper import WhisperEncoder, half_ahead

        if model.own_layer:
            check_own_whisper_model(model.folder)
            whisper = WhisperEncoder(model, _own_layer(model.folder), half_ahead)
        else:
            check_whisper_model(model.folder)
            shipped = shipped_artifact()
            whisper = WhisperEncoder(model, shipped.layer(), shipped.teen_layer())
        pipe.send(whisper.name)
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


def _own_layer(folder: Path) -> PhoneLayer:
    """The layer beside a user's own model. Raises ModelError where it is of another form."""
    try:
        return PhoneLayer(folder / OWN_LAYER)
    except ValueError as problem:
        raise ModelError(
            f"Found a layer of another form in '{folder}' ({problem}), wanted one made by this "
            f"version; make it again: python -m training.own_model '{folder}'."
        ) from problem
