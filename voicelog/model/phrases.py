"""What one spoken phrase holds."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from voicelog.model.base import FrozenModel

__all__ = ["CueBy", "Mode", "Outcome", "Phrase", "PhraseKind", "SignClass", "Slot"]

PhraseKind = Literal[
    "session",
    "equipment",
    "condition",
    "cue",
    "stimulus",
    "turned",
    "outcome",
    "sign",
    "reward",
    "edit",
    "ask",
]
"""What a spoken phrase is about. Each kind is one file of grammars/<language>/."""
Mode = Literal["none", "vibrate", "tone", "momentary", "continuous", "unknown"]
Outcome = Literal["complied", "slow", "partial", "ignored", "left", "broke", "helped", "unknown"]
SignClass = Literal["noticed", "strong", "weak", "none"]
CueBy = Literal["voice", "whistle", "helper"]
Slot = str | int
"""A value that a phrase carries: a word of the grammar, or a spoken number."""


class Phrase(FrozenModel):
    """One thing said: its kind, the values it carries, and the words themselves."""

    kind: PhraseKind
    slots: Mapping[str, Slot]
    words: str
