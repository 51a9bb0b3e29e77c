"""Which engines can listen here, and who listens to a grammar.

The quick recognizer is a Vosk model for the grammar's language where there is one; for English
there is always PocketSphinx, whose wheel carries its model. The careful one is, for English, the
small Whisper model of the extra `careful`, with a layer of ours, or one of the user's own.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from functools import cache
from importlib.metadata import version
from importlib.util import find_spec
from pathlib import Path
from typing import Literal

from voicelog.grammar.grammar import Grammar, RecognitionContext
from voicelog.model import VoicelogError
from voicelog.recognition.careful_recognizer import ALONE, CarefulProcess, CarefulStoppedError
from voicelog.recognition.quick_recognizer import QuickRecognizer
from voicelog.recognition.recognize import Recognizers
from voicelog.recognition.recognizer_names import careful_name
from voicelog.recognition.vosk_models import ModelError, vosk_model_for
from voicelog.recognition.whisper_model import (
    WHISPER_MODEL_NAME,
    NoLayerError,
    WhisperModel,
    own_whisper_model,
    packaged_whisper_model,
)

__all__ = [
    "WHISPER_VARIABLE",
    "AvailableRecognizer",
    "NoCarefulError",
    "NoRecognizerError",
    "RecognizerChoice",
    "available_recognizers",
    "careful_model",
    "make_quick",
    "make_recognizers",
]

WHISPER_VARIABLE = "VOICELOG_WHISPER"
"""Names the folder of a Whisper model of the user's own, with its layer (whisper_model.py)."""

RecognizerChoice = Literal["quick", "careful", "both"]
"""Who shall listen."""


class NoRecognizerError(VoicelogError):
    """No engine has a model for the grammar's language."""

    def __init__(self, language: str) -> None:
        self.language = language
        super().__init__(
            f"Found no listener for the language '{language or 'not named'}', wanted a Vosk model "
            "for it; unpack one into the models folder."
        )


class NoCarefulError(VoicelogError):
    """A careful recognizer was asked for, and there is none."""

    def __init__(self) -> None:
        super().__init__(
            "Found no careful listener, wanted a Whisper model and the library that runs it; "
            "install them with: pip install 'voicelog[careful]', or take --listener quick."
        )


@dataclass(frozen=True, slots=True)
class AvailableRecognizer:
    """An engine with its model, and whether it is the one that listens."""

    name: str
    used: bool


def available_recognizers(language: str) -> tuple[AvailableRecognizer, ...]:
    """The engines with a model for a language, those in use first."""
    quick: list[str] = []
    if (model := vosk_model_for(language)) is not None:
        quick.append(f"vosk {version('vosk')} {model.name}")
    if language == "en":
        quick.append(f"pocketsphinx {version('pocketsphinx')} en-us")
    whisper = careful_model(language)
    careful = [_name_of(whisper)] if whisper is not None else []
    used = [*quick[:1], *careful]
    every = (*used, *quick[1:])
    return tuple(AvailableRecognizer(name, used=name in used) for name in every)


def make_recognizers(
    grammar: Grammar,
    recognition_context: RecognitionContext,
    wanted: RecognizerChoice | None = None,
) -> Recognizers:
    """Who listens to a grammar; by default both listeners where both are there.

    A careful one that cannot be used is then told in `Recognizers.note`. Raises NoRecognizerError
    when no quick one can hear its language; where a careful one is wanted, NoCarefulError when
    there is none, and ModelError or CarefulStoppedError when it cannot be used.
    """
    model = careful_model(grammar.language) if wanted != "quick" else None
    if model is None and wanted in ("careful", "both"):
        raise NoCarefulError
    careful: CarefulProcess | None = None
    note = None
    if model is not None:
        try:
            careful = CarefulProcess(model)
        except (CarefulStoppedError, ModelError) as problem:
            if wanted is not None:
                raise
            note = f"{problem} {ALONE}"
    quick = None if wanted == "careful" else make_quick(grammar, recognition_context)
    return Recognizers(quick, careful, note)


def careful_model(language: str) -> WhisperModel | None:
    """The model that the careful recognizer would use for a language, or None.

    For English the one in the folder that the environment names (WHISPER_VARIABLE), else the
    packaged one. Raises NoLayerError when that names no folder, ModelError when the folder holds no
    layer.
    """
    if not _can_run_whisper():
        return None
    if (named := os.environ.get(WHISPER_VARIABLE) or WHISPER_MODEL_NAME) != WHISPER_MODEL_NAME:
        folder = Path(named).expanduser()
        if not folder.is_dir():
            raise NoLayerError(named, f"unset {WHISPER_VARIABLE}, or name a model's folder.")
        return own_whisper_model(folder.resolve()) if language == "en" else None
    return packaged_whisper_model() if language == "en" else None


def _name_of(model: WhisperModel) -> str:
    if model.own_layer:
        return careful_name(model.name, model.own_layer)
    return careful_name(model.name)


@cache
def _can_run_whisper() -> bool:
    return all(find_spec(name) for name in ("ctranslate2", "faster_whisper"))


def make_quick(grammar: Grammar, recognition_context: RecognitionContext) -> QuickRecognizer:
    """The quick recognizer for a grammar.

    Raises NoRecognizerError when none can hear its language.
    """
    if (model := vosk_model_for(grammar.language)) is not None:
        # Each recognizer loads its library, and only one of them is used.
        from voicelog.recognition.vosk import VoskRecognizer

        return VoskRecognizer(grammar, recognition_context, model=model)
    if grammar.language == "en":
        # As above.
        from voicelog.recognition.sphinx import SphinxRecognizer

        return SphinxRecognizer(grammar, recognition_context)
    raise NoRecognizerError(grammar.language)
