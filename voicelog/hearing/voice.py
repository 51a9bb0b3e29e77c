"""What was fitted to one person's voice and microphone; nothing here listens.

Kept in the log as JSON (log/profiles.py), made by fit.py, used by the quick listener.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Literal

from pydantic import Field

from voicelog.model import Record

__all__ = ["Voice", "voice_at", "voice_heard"]


class Voice(Record):
    """How the quick listener hears a person.

    speed: the sound is played this much faster to it (1.1: a tenth), pitch and all.
    accent: whose pronunciations were added ("Scottish"); "" for none.
    variants: those pronunciations by word, phones parted by spaces, beside the usual ones.
    number: which fit of this handler it is, from 1; microphone: "" where it is not known.
    """

    format: Literal[1] = 1
    handler: str
    microphone: str = ""
    number: int = Field(default=1, ge=1)
    speed: float = Field(default=1.0, ge=0.8, le=1.25)
    accent: str = ""
    variants: Mapping[str, tuple[str, ...]] = {}

    @property
    def plain(self) -> bool:
        """Whether it changes nothing."""
        return self.speed == 1.0 and not self.variants

    @property
    def name(self) -> str:
        """What it is kept under: the handler, and the microphone where it is known."""
        return f"{self.handler} at {self.microphone}" if self.microphone else self.handler

    @property
    def label(self) -> str:
        """What a listener's name says of it."""
        return f"voice {self.handler.casefold()} {self.number}"


def voice_at(voices: Iterable[Voice], handler: str, microphone: str = "") -> Voice | None:
    """The newest voice of a handler at a microphone, else at one not known; None without.

    Where the microphone is not known it is the handler's newest. Letter case is no matter.
    """
    own = [voice for voice in voices if voice.handler.casefold() == handler.casefold()]
    for wanted in (microphone, ""):
        here = [one for one in own if one.microphone.casefold() == wanted.casefold()]
        if here:
            return here[-1]
    return own[-1] if own and not microphone else None


def voice_heard(voices: Iterable[Voice], listeners: Iterable[str]) -> Voice | None:
    """The newest voice of the handler whom these listeners, by their names, were fitted to."""
    names = tuple(listeners)
    of = [v for v in voices if any(f" voice {v.handler.casefold()} " in name for name in names)]
    return of[-1] if of else None
