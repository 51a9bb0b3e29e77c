"""How well weights do on voices that they were not fitted on: what is accepted, right and wrong."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from training.candidates import Observation
from training.fusion_weights import option_probabilities
from training.layer_files import FOLDS, PEOPLE, SPEAKER_OF
from voicelog.recognition.fusion import FusionModel
from voicelog.recognition.quick_recognizer import AcceptanceThresholds

__all__ = ["Judged", "accepted", "cross_validated", "curve", "folds", "judged"]

Fit = Callable[[Sequence[Observation]], Mapping[str, float]]
WRONG = (0, 1, 2, 3, 5, 10, 20)


@dataclass(frozen=True)
class Judged:
    """The likeliest option of an observation, its probability (0 to 1), and whether it is right."""

    observation: Observation
    option: int
    probability: float
    right: bool

    @property
    def kind(self) -> str:
        """By which threshold it is judged: "sound-alike", "single word" or "several words"."""
        option = self.observation.options[self.option]
        if option.sound_alike:
            return "sound-alike"
        return "several words" if " " in option.words else "single word"

    def threshold(self, thresholds: AcceptanceThresholds) -> float:
        """From which probability it is accepted."""
        option, margin = self.observation.options[self.option], thresholds.sound_alike_margin
        needed = thresholds.accept_words(option.words)
        told_apart = margin is not None and (option.ahead or 0.0) >= margin
        if option.sound_alike and not told_apart:
            needed = max(needed, thresholds.accept_sound_alike)
        return needed


def judged(observations: Sequence[Observation], weights: Mapping[str, float]) -> Iterator[Judged]:
    """The likeliest option of each observation that has any."""
    for one in observations:
        if one.options:
            likely = option_probabilities(one, weights)
            best = max(range(len(likely)), key=likely.__getitem__)
            yield Judged(one, best, likely[best], best == one.right)


def folds(observations: Sequence[Observation]) -> list[int]:
    """In which fold each observation is judged: a voice of `tune` in that of its speaker
    (layer_files.py), so that nobody is judged by a fit on the same speaker; people and what
    they say otherwise in as many runs of each condition, in the order heard, since who speaks
    is not known."""
    total = Counter(one.condition for one in observations)
    seen = Counter[str]()
    found = []
    for one in observations:
        speaker = SPEAKER_OF.get(one.voice) if one.voice != PEOPLE else None
        known = next((fold for fold, left in enumerate(FOLDS) if speaker in left), None)
        if known is None:
            known = seen[one.condition] * len(FOLDS) // total[one.condition]
        seen[one.condition] += 1
        found.append(known)
    return found


def cross_validated(observations: Sequence[Observation], fit: Fit) -> list[Judged]:
    """Each fold judged by a fit on the others."""
    found: list[Judged] = []
    placed = folds(observations)
    for fold in range(len(FOLDS)):
        weights = fit([one for one, of in zip(observations, placed, strict=True) if of != fold])
        found += judged(
            [one for one, of in zip(observations, placed, strict=True) if of == fold], weights
        )
    return found


def accepted(some: Sequence[Judged], model: FusionModel) -> dict[str, Counter[str]]:
    """By condition, how many readings would be accepted that are right, and that are wrong; a
    level beyond the range never is."""
    counts: dict[str, Counter[str]] = {}
    for one in some:
        here = counts.setdefault(one.observation.condition, Counter(right=0, wrong=0))
        thresholds = model.thresholds(one.observation.above_noise_db)
        beyond = one.observation.options[one.option].beyond
        if one.probability >= one.threshold(thresholds) and not beyond:
            here["right" if one.right else "wrong"] += 1
    return counts


def curve(some: Sequence[Judged]) -> list[tuple[int, int, float]]:
    """The risk-coverage curve: for each number of wrong readings let through, how many right ones,
    and above which probability."""
    ranked = sorted(some, key=lambda one: -one.probability)
    found = []
    for most in WRONG:
        right = wrong = 0
        least = 1.0
        for one in ranked:
            wrong += not one.right
            if wrong > most:
                break
            right, least = right + one.right, one.probability
        found.append((most, right, least))
    return found
