"""What the live loop may ask for; it does none of it itself."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from voicelog.model import Action

__all__ = ["MOST_WORDS", "Act", "Keep", "Mark", "Play", "Say", "ToneKind"]

MOST_WORDS = 6
"""Words in anything that is spoken to her."""

ToneKind = Literal["accepted", "doubtful", "not understood", "listening", "waiting", "warning"]
"""`listening` each minute; `waiting` while a stop has not been acknowledged; `warning` in the
place of words where there is no voice."""


@dataclass(frozen=True, slots=True)
class Play:
    """Sound a tone."""

    tone: ToneKind


@dataclass(frozen=True, slots=True)
class Say:
    """Speak words, at most MOST_WORDS. Urgent ones interrupt what is being said.

    `rule` names the rule that a warning speaks for.
    """

    words: str
    urgent: bool = False
    rule: str | None = None


@dataclass(frozen=True, slots=True)
class Keep:
    """Commit what her answer settles."""

    action: Action


@dataclass(frozen=True, slots=True)
class Mark:
    """Keep that something happened: an acknowledgement, a device, the clock."""

    what: Literal["acknowledgement", "device", "clock"]
    detail: str


Act = Play | Say | Keep | Mark
