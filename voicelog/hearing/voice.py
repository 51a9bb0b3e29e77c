"""What was fitted to one person's voice and microphone; nothing here listens.

Kept in the log as JSON (log/voices.py), made by fit.py, used by the quick listener.
"""

from __future__ import annotations

from collections.abc import Mapping

from pydantic import Field

from voicelog.model import Record

__all__ = ["Voice"]


class Voice(Record):
    """How the quick listener hears a person.

    speed: the sound is played this much faster to it (1.1: a tenth), pitch and all.
    accent: whose pronunciations were added ("Scottish"); "" for none.
    variants: those pronunciations by word, phones parted by spaces, beside the usual ones.
    number: which fit of this handler it is, from 1; microphone: "" where it is not known.
    """

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
    def label(self) -> str:
        """What a listener's name says of it."""
        return f"voice {self.handler.casefold()} {self.number}"

    @property
    def told(self) -> str:
        """What it is, for a person."""
        parts = [f"sound played at {self.speed:g} times its speed"] if self.speed != 1.0 else []
        parts += [f"{self.accent} pronunciations beside the usual ones"] if self.accent else []
        return ", ".join(parts) or "nothing but the usual"
