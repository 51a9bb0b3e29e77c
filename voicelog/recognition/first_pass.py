"""What a quick listener is: one whole segment of sound in, what it takes it to say out.

A listener is made for a grammar and what may be expected of it, and then hears segments
in any order: the same sound always gives the same answer, whatever was heard before.
It reports; it decides nothing. Which reading stands is the judge's business alone.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple, Protocol, runtime_checkable

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "NO_HYPOTHESIS",
    "RATE",
    "AcceptanceThresholds",
    "AligningRecognizer",
    "Alignment",
    "ConfidenceRecognizer",
    "FirstPassRecognizer",
    "Hypothesis",
    "Sound",
    "Spectrum",
    "WordTime",
]

Sound = NDArray[np.float32]
"""Mono samples at RATE, full scale -1 to 1, shape (samples,)."""

Spectrum = NDArray[np.float64]
"""Mean power in each bin of a windowed frame (cleaned.py), shape (bins,)."""

RATE = 16_000
"""Samples a second (Hz) of every sound in this room."""


class WordTime(NamedTuple):
    """A word and where it lies: seconds (s) from the first sample of the segment."""

    word: str
    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True)
class Alignment:
    """How well a segment fits words that were given, as a matching listener sees it.

    fit: mean log score a frame over the words; 0 or less, nearer to 0 is better.
    least: the same of the word that fits worst.
    times: where the words would lie.
    pace: frames of 10 ms for each phone of the most hurried word: one that was never said is
        squeezed in.
    """

    fit: float
    least: float
    times: tuple[WordTime, ...]
    pace: float


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """What one listener took one segment to say.

    words: as the grammar writes them; "" when it heard no word at all.
    complete: the words are one or more whole phrases of the grammar.
    score: how well the sound fits the words, higher is better, on the listener's own scale
        (PocketSphinx: mean log acoustic score a frame over the words); None when unknown.
    confidence: the listener's own estimate that the words are right, 0 to 1.
    times: the words with their places, in order; empty when the listener knows none.
    others: other complete readings it found, likeliest first, without `words`.
    again: what it heard when it heard the segment again in another way, complete or not;
        empty when it is not worth that.
    match: how well the sound fits `words`, where it can tell.
    """

    words: str = ""
    complete: bool = False
    score: float | None = None
    confidence: float = 0.0
    times: tuple[WordTime, ...] = ()
    others: tuple[str, ...] = ()
    again: tuple[str, ...] = ()
    match: Alignment | None = None


NO_HYPOTHESIS = Hypothesis()
"""No word heard."""


class AcceptanceThresholds(NamedTuple):
    """From which of its own confidences on a listener's reading is sure, or worth a look.

    `word` is the bar for a reading of a single word, which other talk is soonest taken
    for; `twin` for one that differs from another only by words that sound alike ("fifteen",
    "fifty").
    """

    sure: float
    look: float
    word: float
    twin: float


class FirstPassRecognizer(Protocol):
    """Hears segments against the grammar it was made for."""

    @property
    def name(self) -> str:
        """Engine, its version and its model ("pocketsphinx 5.1.1 en-us"); goes into `who`."""

    def hear(self, sound: Sound, noise: Spectrum | None = None) -> Hypothesis:
        """What `sound`, one whole segment with a little silence at both ends, says.

        `noise` is the spectrum of what is no speech around it, when that is known.
        """


@runtime_checkable
class ConfidenceRecognizer(FirstPassRecognizer, Protocol):
    """A listener that tells a confidence of its own, and what it is worth."""

    @property
    def bars(self) -> AcceptanceThresholds:
        """From which confidences on its readings are sure or worth a look, as measured."""


@runtime_checkable
class AligningRecognizer(FirstPassRecognizer, Protocol):
    """A listener that can also say how well a segment fits given words."""

    def match(self, sound: Sound, words: str) -> Alignment | None:
        """How well `sound` fits `words`, or None when they cannot lie in it at all."""
