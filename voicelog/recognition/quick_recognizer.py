"""What a quick recognizer is: one whole segment of sound in, what it takes it to say out.

A recognizer is made for a grammar and what may be expected of it, and then hears segments
in any order: the same sound always gives the same answer, whatever was heard before.
It reports; it decides nothing. Which reading stands is the business of decision.py alone.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple, Protocol, runtime_checkable

import numpy as np
from numpy.typing import NDArray

from voicelog.audio.resampling import Samples

__all__ = [
    "NO_HYPOTHESIS",
    "AcceptanceThresholds",
    "AligningRecognizer",
    "Alignment",
    "ConfidenceRecognizer",
    "Hypothesis",
    "QuickRecognizer",
    "Spectrum",
    "WordTime",
]

Spectrum = NDArray[np.float64]
"""Mean power in each bin of a windowed frame (noise_reduction.py), shape (bins,)."""


class WordTime(NamedTuple):
    """A word and where it lies: seconds (s) from the first sample of the segment."""

    word: str
    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True)
class Alignment:
    """How well a segment fits words that were given (forced alignment).

    With s(w) the log acoustic score (nats) that the decoder gives the frames of word w, and n(w)
    how many frames of 10 ms those are:

    mean_word_score: sum of s(w) / sum of n(w), silence left out; nats a frame, 0 or less, nearer
        to 0 is better.
    worst_word_score: the least s(w) / n(w) of any word.
    times: where the words would lie.
    frames_per_phone: the least n(w) / phones of w: a word that was never said is squeezed in, so
        few frames speak against it.
    """

    mean_word_score: float
    worst_word_score: float
    times: tuple[WordTime, ...]
    frames_per_phone: float


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
    repeats: what it heard when it heard the segment again in another way, complete or not;
        empty when it is not worth that.
    match: how well the sound fits `words`, where it can tell.
    """

    words: str = ""
    complete: bool = False
    score: float | None = None
    confidence: float = 0.0
    times: tuple[WordTime, ...] = ()
    others: tuple[str, ...] = ()
    repeats: tuple[str, ...] = ()
    match: Alignment | None = None


NO_HYPOTHESIS = Hypothesis()
"""No word heard."""


class AcceptanceThresholds(NamedTuple):
    """From which confidence (a probability, 0 to 1) on a reading is accepted, or offered.

    accept: a reading of several words is sure from here on.
    offer: below this it is rejected; from here to `accept` it is doubtful, for a person to see.
    accept_single_word: in place of `accept` for a reading of one word, which other talk is
        soonest taken for.
    accept_sound_alike: the least for one that differs from another reading only by words that
        sound alike ("fifteen", "fifty").
    sound_alike_margin: nats in the phones by which a number that is so far ahead of every one that
        sounds like it needs no more than any other reading; None: none is so sure.
    teen_margin: the same of "thirteen" and "thirty" where a layer tells them apart: nats of its
        odds (teen_layer.py).
    """

    accept: float
    offer: float
    accept_single_word: float
    accept_sound_alike: float
    sound_alike_margin: float | None = None
    teen_margin: float | None = None

    def accept_words(self, words: str) -> float:
        """From where on a reading of so many words is sure."""
        return self.accept if " " in words else self.accept_single_word


class QuickRecognizer(Protocol):
    """Hears segments against the grammar it was made for."""

    @property
    def name(self) -> str:
        """Engine, its version and its model ("pocketsphinx 5.1.1 en-us"); goes into `who`."""

    def hear(self, sound: Samples, noise: Spectrum | None = None) -> Hypothesis:
        """What `sound`, one whole segment with a little silence at both ends, says.

        `noise` is the spectrum of what is no speech around it, when that is known.
        """


@runtime_checkable
class ConfidenceRecognizer(QuickRecognizer, Protocol):
    """A listener that tells a confidence of its own, and what it is worth."""

    @property
    def thresholds(self) -> AcceptanceThresholds:
        """From which confidences on its readings are sure or worth a look, as measured."""


@runtime_checkable
class AligningRecognizer(QuickRecognizer, Protocol):
    """A listener that can also say how well a segment fits given words."""

    def match(self, sound: Samples, words: str) -> Alignment | None:
        """How well `sound` fits `words`, or None when they cannot lie in it at all."""
