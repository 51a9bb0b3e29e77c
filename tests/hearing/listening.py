"""Listeners that know what they will hear: they stand in where the way of judging is told."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from voicelog.grammar.pronounce import shipped_pronouncer
from voicelog.hearing.careful import CarefulStoppedError
from voicelog.hearing.listener import RATE, Heard, Match, Sound, Spectrum, WordTime
from voicelog.hearing.posteriors import BLANK, PLACES, Posteriors
from voicelog.hearing.transcript import Line, Weight

__all__ = ["Knowing", "Stopped", "Telling", "Writing", "fitting", "posteriors", "saying"]


def posteriors(scores_: NDArray[np.floating]) -> Posteriors:
    shifted = scores_ - scores_.max(axis=1, keepdims=True)
    logs = shifted - np.log(np.exp(shifted).sum(axis=1, keepdims=True))
    return np.asarray(logs, np.float32)


def saying(words: str, lasting: int = 3, blank: int = 2, sure: float = 8.0) -> Posteriors:
    """Posteriors of somebody who says these words distinctly."""
    rows: list[int] = [BLANK] * blank
    for word in words.split():
        for phone in shipped_pronouncer().variants(word)[0]:
            rows += [PLACES[phone]] * lasting + [BLANK]
        rows += [BLANK] * blank
    heard = np.zeros((len(rows), 1 + len(PLACES)))
    heard[np.arange(len(rows)), rows] = sure
    return posteriors(heard)


def fitting(
    fit: float,
    least: float | None = None,
    times: tuple[WordTime, ...] = (),
    pace: float = 8.0,
) -> Match:
    """How well some words fit; without `least` all fit alike."""
    return Match(fit=fit, least=fit if least is None else least, times=times, pace=pace)


@dataclass
class Knowing:
    """A quick listener that hears `heard` in everything, and matches what `fits`."""

    heard: Heard
    fits: Mapping[str, float] = field(default_factory=dict)
    name: str = "knowing 1"
    matched: list[str] = field(default_factory=list)

    def hear(self, sound: Sound, noise: Spectrum | None = None) -> Heard:
        return self.heard

    def match(self, sound: Sound, words: str) -> Match | None:
        self.matched.append(words)
        if words not in self.fits:
            return None
        return fitting(self.fits[words], times=(WordTime(words, 0.0, len(sound) / RATE),))


@dataclass
class Writing:
    """A careful listener that writes `texts`, likeliest first, and weighs as it was told."""

    texts: Sequence[str]
    open_text: str = ""
    weights: Mapping[str, float] = field(default_factory=dict)
    name: str = "writing 1"
    asked: list[str] = field(default_factory=list)
    weighed: list[str] = field(default_factory=list)
    heard_phones: Posteriors | None = None
    ways: int = 0

    @property
    def tells_phones(self) -> bool:
        return self.heard_phones is not None

    def attend(self, *sounds: Sound) -> None:
        self.asked.append("attend")
        self.ways = len(sounds)

    def phones(self) -> Posteriors | None:
        if self.heard_phones is not None:
            self.asked.append("phones")
        return self.heard_phones

    def held(self) -> tuple[Line, ...]:
        self.asked.append("held")
        return tuple(Line(text, -1.0 - n, -0.1) for n, text in enumerate(self.texts))

    def free(self) -> Line:
        self.asked.append("free")
        return Line(self.open_text, -1.0, -0.1)

    def weigh(self, texts: Sequence[str]) -> tuple[Weight, ...]:
        self.asked.append("weigh")
        self.weighed.extend(texts)
        totals = [self.weights.get(text, -30.0) for text in texts]
        return tuple(Weight(total, total / 5, total / 3) for total in totals)


class Telling(Writing):
    """A careful listener that tells the phones of `words` in everything."""

    def __init__(self, words: str, sure: float = 8.0) -> None:
        super().__init__(())
        self.heard_phones = saying(words, sure=sure)


class Stopped(Writing):
    """A careful listener whose process is gone from the `after`th segment on."""

    def __init__(self, texts: Sequence[str] = (), *, after: int = 0) -> None:
        super().__init__(texts)
        self.left = after

    def attend(self, *sounds: Sound) -> None:
        self.left -= 1
        if self.left < 0:
            raise CarefulStoppedError
        super().attend(*sounds)
