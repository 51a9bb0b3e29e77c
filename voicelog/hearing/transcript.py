"""What the careful listener writes down of a segment, and thinks of texts it is shown."""

from __future__ import annotations

import math
from dataclasses import dataclass

__all__ = ["Lead", "Line", "Transcript", "Weight"]


SEVERAL = 6
"""Words in a row that nobody says by chance."""


@dataclass(frozen=True, slots=True)
class Lead:
    """What a careful listener is told beforehand.

    words, numbers (in digits): all that it may write when it is held to them.
    example, beginning: texts of the kind it will hear, a longer and a short one.
    language: of the grammar, without a region ("en"); a model of many is told which to write.
    """

    words: tuple[str, ...]
    numbers: tuple[str, ...]
    example: str
    beginning: str
    language: str = "en"


@dataclass(frozen=True, slots=True)
class Line:
    """A text, and its log-likelihood (nats), in all and for each token."""

    text: str
    total: float
    mean: float

    @property
    def surely(self) -> float:
        """How surely (0 to 1) these words and no others were said; the more so the more they
        are, and at its most from SEVERAL on."""
        return math.exp(self.mean) * min(len(self.text.split()), SEVERAL) / SEVERAL


@dataclass(frozen=True, slots=True)
class Transcript:
    """What one segment says.

    held: texts of the grammar's words alone, likeliest first; empty when it was not asked.
    free: the text when any word may be used; None when it was not asked.
    """

    held: tuple[Line, ...] = ()
    free: Line | None = None


@dataclass(frozen=True, slots=True)
class Weight:
    """The log-likelihood (nats) of a text for a segment: in all, for each token, and that of
    the least likely token."""

    total: float
    mean: float
    worst: float
