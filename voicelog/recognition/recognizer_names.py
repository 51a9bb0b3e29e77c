"""How recognizers are named in a log, and which pass a name tells of."""

from __future__ import annotations

from importlib.metadata import version
from typing import Literal

from voicelog.recognition.trained_artifact import shipped_artifact

__all__ = ["RecognitionPass", "pass_of", "second_pass_name"]

RecognitionPass = Literal["first", "second"]
"""The first pass hears words, the second weighs them by the phones it tells."""

_SECOND_PASS_ENGINE = "whisper"


def second_pass_name(model: str, own_layer: str = "") -> str:
    """The name of the second pass on a Whisper model of that name: engine, model with our layer, or
    how the hash of its own begins, and the library with its version ("whisper tiny.en, phones 5
    (ctranslate2 4.6.0)")."""
    shipped = shipped_artifact().name_with_layer
    layered = f"{model}, own phones {own_layer}" if own_layer else shipped(model)
    return f"{_SECOND_PASS_ENGINE} {layered} (ctranslate2 {version('ctranslate2')})"


def pass_of(name: str) -> RecognitionPass:
    """Which pass a recognizer of that name is; every engine but one serves the first."""
    return "second" if name.partition(" ")[0] == _SECOND_PASS_ENGINE else "first"
