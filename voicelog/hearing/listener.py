"""What a listener is: one whole segment of sound in, what it takes it to say out.

A listener is made for a grammar and what may be expected of it, and then hears segments
in any order: the same sound always gives the same answer, whatever was heard before.
It reports; it decides nothing. Which reading stands is the judge's business alone.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

__all__ = ["NOTHING", "RATE", "Bars", "Heard", "Listener", "Sound", "WordTime"]

Sound = NDArray[np.float32]
"""Mono samples at RATE, full scale -1 to 1, shape (samples,)."""

RATE = 16_000
"""Samples a second (Hz) of every sound in this room."""


class WordTime(NamedTuple):
    """A word and where it lies: seconds (s) from the first sample of the segment."""

    word: str
    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True)
class Heard:
    """What one listener took one segment to say.

    words: as the grammar writes them; "" when it heard no word at all.
    complete: the words are one or more whole phrases of the grammar.
    score: how well the sound fits the words, higher is better, on the listener's own scale
        (PocketSphinx: mean log acoustic score a frame over the words); None when unknown.
    confidence: the listener's own estimate that the words are right, 0 to 1.
    times: the words with their places, in order; empty when the listener knows none.
    others: other complete readings it found, likeliest first, without `words`.
    """

    words: str = ""
    complete: bool = False
    score: float | None = None
    confidence: float = 0.0
    times: tuple[WordTime, ...] = ()
    others: tuple[str, ...] = ()


NOTHING = Heard()
"""No word heard."""


class Bars(NamedTuple):
    """From which of its own confidences on a listener's reading is sure, or worth a look.

    `word` is the bar for a reading of a single word, which other talk is soonest taken
    for; `twin` for one that differs from another only by words that sound alike ("fifteen",
    "fifty").
    """

    sure: float
    look: float
    word: float
    twin: float


class Listener(Protocol):
    """Hears segments against the grammar it was made for."""

    @property
    def bars(self) -> Bars:
        """What its confidence is worth, as measured."""

    @property
    def name(self) -> str:
        """Engine, its version and its model ("pocketsphinx 5.1.1 en-us"); goes into `who`."""

    def hear(self, sound: Sound) -> Heard:
        """What `sound`, one whole segment with a little silence at both ends, says."""
