"""Listeners that know what they will hear: they stand in where the way of judging is told."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from voicelog.audio.resampling import RATE, Samples
from voicelog.grammar.pronunciation import shipped_pronouncer
from voicelog.recognition.careful_recognizer import CarefulStoppedError
from voicelog.recognition.phone_posteriors import BLANK, PHONE_INDEX, Posteriors
from voicelog.recognition.quick_recognizer import Alignment, Hypothesis, Spectrum, WordTime
from voicelog.recognition.teen_layer import NumberPlace

__all__ = ["Knowing", "Stopped", "Telling", "fitting", "posteriors", "saying"]


def posteriors(scores_: NDArray[np.floating]) -> Posteriors:
    shifted = scores_ - scores_.max(axis=1, keepdims=True)
    logs = shifted - np.log(np.exp(shifted).sum(axis=1, keepdims=True))
    return np.asarray(logs, np.float32)


def saying(words: str, lasting: int = 3, blank: int = 2, sure: float = 8.0) -> Posteriors:
    """Posteriors of somebody who says these words distinctly."""
    rows: list[int] = [BLANK] * blank
    for word in words.split():
        for phone in shipped_pronouncer().variants(word)[0]:
            rows += [PHONE_INDEX[phone]] * lasting + [BLANK]
        rows += [BLANK] * blank
    heard = np.zeros((len(rows), 1 + len(PHONE_INDEX)))
    heard[np.arange(len(rows)), rows] = sure
    return posteriors(heard)


def fitting(
    mean_word_score: float,
    worst_word_score: float | None = None,
    times: tuple[WordTime, ...] = (),
    frames_per_phone: float = 8.0,
) -> Alignment:
    """How well some words fit; without `least` all fit alike."""
    return Alignment(
        mean_word_score=mean_word_score,
        worst_word_score=mean_word_score if worst_word_score is None else worst_word_score,
        times=times,
        frames_per_phone=frames_per_phone,
    )


@dataclass
class Knowing:
    """A quick listener that hears `heard` in everything, and matches what `fits`."""

    heard: Hypothesis
    fits: Mapping[str, float] = field(default_factory=dict)
    name: str = "knowing 1"
    matched: list[str] = field(default_factory=list)

    def hear(self, sound: Samples, noise: Spectrum | None = None) -> Hypothesis:
        return self.heard

    def match(self, sound: Samples, words: str) -> Alignment | None:
        self.matched.append(words)
        if words not in self.fits:
            return None
        return fitting(self.fits[words], times=(WordTime(words, 0.0, len(sound) / RATE),))


@dataclass
class Telling:
    """A careful listener that tells the phones of `words` in everything.

    asked: what it was asked, in order; ways: in how many ways it was given the last segment;
    teen_sure: the odds of -teen that it tells (nats), None: as far as that is ahead in the phones.
    """

    words: str
    sure: float = 8.0
    name: str = "telling 1"
    asked: list[str] = field(default_factory=list)
    ways: int = 0
    teen_sure: float | None = None

    def load_segment(self, *sounds: Samples) -> None:
        self.asked.append("load_segment")
        self.ways = len(sounds)

    def phones(self) -> Posteriors:
        self.asked.append("phones")
        return saying(self.words, sure=self.sure)

    def teen_odds(self, numbers: Sequence[NumberPlace]) -> tuple[float, ...]:
        self.asked.append("teen_odds")
        return tuple(one.ahead if self.teen_sure is None else self.teen_sure for one in numbers)


@dataclass
class Stopped(Telling):
    """A careful listener whose process is gone from the `after`th segment on."""

    after: int = 0

    def load_segment(self, *sounds: Samples) -> None:
        self.after -= 1
        if self.after < 0:
            raise CarefulStoppedError
        super().load_segment(*sounds)
