"""How recognizers are named in a log, and which of the two a name tells of."""

from __future__ import annotations

from importlib.metadata import version
from typing import Literal

from voicelog.recognition.trained_artifact import shipped_artifact

__all__ = ["RecognizerKind", "careful_name", "kind_of"]

RecognizerKind = Literal["quick", "careful"]
"""The quick recognizer hears words, the careful one weighs them by the phones it tells."""

_CAREFUL_ENGINE = "whisper"


def careful_name(model: str, own_layer: str = "") -> str:
    """The name of the careful recognizer on a Whisper model of that name: engine, model with our
    layer, or how the hash of its own begins, and the library with its version ("whisper tiny.en,
    phones 5 (ctranslate2 4.6.0)")."""
    shipped = shipped_artifact().name_with_layer
    layered = f"{model}, own phones {own_layer}" if own_layer else shipped(model)
    return f"{_CAREFUL_ENGINE} {layered} (ctranslate2 {version('ctranslate2')})"


def kind_of(name: str) -> RecognizerKind:
    """Which of the two a recognizer of that name is; every engine but one is a quick one."""
    return "careful" if name.partition(" ")[0] == _CAREFUL_ENGINE else "quick"
