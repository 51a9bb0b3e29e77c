"""Which engines can listen here, and the quick listener made from the best of them.

A Vosk model for the grammar's language is used where there is one; for English there is
always PocketSphinx, whose wheel carries its model.
"""

from __future__ import annotations

from dataclasses import dataclass
from importlib.metadata import version

from voicelog.grammar.grammar import Grammar, Narrowing
from voicelog.hearing.listener import Listener
from voicelog.hearing.models import vosk_for
from voicelog.model import VoicelogError

__all__ = ["Engine", "NoListenerError", "engines", "quick_listeners"]


class NoListenerError(VoicelogError):
    """No engine has a model for the grammar's language."""

    def __init__(self, language: str) -> None:
        self.language = language
        super().__init__(
            f"Found no listener for the language '{language or 'not named'}', wanted a Vosk model "
            "for it; unpack one into the models folder."
        )


@dataclass(frozen=True, slots=True)
class Engine:
    """An engine with its model, and whether it is the one that listens."""

    name: str
    used: bool


def engines(language: str) -> tuple[Engine, ...]:
    """The engines with a model for a language, the one in use first."""
    found: list[str] = []
    if (model := vosk_for(language)) is not None:
        found.append(f"vosk {version('vosk')} {model.name}")
    if language == "en":
        found.append(f"pocketsphinx {version('pocketsphinx')} en-us")
    return tuple(Engine(name, used=place == 0) for place, name in enumerate(found))


def quick_listeners(grammar: Grammar, narrowing: Narrowing) -> tuple[Listener, ...]:
    """The quick listener for a grammar, alone (NoListenerError when none can hear it)."""
    if (model := vosk_for(grammar.language)) is not None:
        from voicelog.hearing.vosk import VoskListener

        return (VoskListener(grammar, narrowing, model=model),)
    if grammar.language == "en":
        from voicelog.hearing.sphinx import SphinxListener

        return (SphinxListener(grammar, narrowing),)
    raise NoListenerError(grammar.language)
