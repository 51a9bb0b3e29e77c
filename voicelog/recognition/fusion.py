"""What each piece of evidence weighs, and from which likelihood on a reading stands.

Fitted on the tuning narrations and talk (tests/bench/calibrate.py), one set for each company
of listeners: the quick one alone, a careful one alone, both.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from voicelog.recognition.first_pass import (
    AcceptanceThresholds,
    AligningRecognizer,
    FirstPassRecognizer,
)
from voicelog.recognition.noise_reduction import NOISY_DB
from voicelog.recognition.second_pass import SecondPassRecognizer

__all__ = [
    "FIRST_PASS_MODEL",
    "FIRST_PASS_WEIGHTS",
    "SECOND_PASS_WEIGHTS",
    "TWO_PASS_WEIGHTS",
    "FusionModel",
    "fusion_model_for",
]

TWO_PASS_WEIGHTS: Mapping[str, float] = {
    "quick": 1.40,
    "repeat_agreement": 1.56,
    "fit": 0.41,
    "fit in noise": -2.02,
    "least": 0.81,
    "unaligned_s": -0.82,
    "unaligned in noise": 0.29,
    "constant": 10.47,
    "single": -1.45,
    "loud": -0.50,
    "phones first": 0.38,
    "score_behind_best": 1.02,
    "score_per_phone": 2.27,
    "score_between_words": 4.15,
    "noise": -5.02,
}
SECOND_PASS_WEIGHTS: Mapping[str, float] = {
    "constant": 7.04,
    "quick": 2.60,
    "single": -0.41,
    "loud": -0.75,
    "phones first": 0.57,
    "score_behind_best": 1.17,
    "score_per_phone": 2.30,
    "score_between_words": 4.36,
    "noise": -1.29,
}
FIRST_PASS_WEIGHTS: Mapping[str, float] = {
    "quick": 1.46,
    "repeat_agreement": 1.57,
    "fit": 2.52,
    "fit in noise": -2.63,
    "least": 1.06,
    "unaligned_s": 0.21,
    "unaligned in noise": -0.17,
    "constant": 4.01,
    "single": 0.57,
    "loud": -0.36,
    "phones": 5.06,
    "repeat_agreement in noise": 3.12,
    "pace": 0.84,
    "noise": -5.38,
}


class FusionModel(NamedTuple):
    """Listeners that judge together: what their evidence weighs, and the bars for its sum, in
    quiet and in noise."""

    weights: Mapping[str, float]
    quiet: AcceptanceThresholds
    noisy: AcceptanceThresholds

    def thresholds(self, above_noise_db: float) -> AcceptanceThresholds:
        """The bars for a segment whose loud frames stand so far above the noise (dB)."""
        return self.quiet if above_noise_db >= NOISY_DB else self.noisy


FIRST_PASS_MODEL = FusionModel(
    FIRST_PASS_WEIGHTS,
    quiet=AcceptanceThresholds(
        accept=0.93, offer=0.10, accept_single_word=0.98, accept_sound_alike=0.97
    ),
    noisy=AcceptanceThresholds(
        accept=0.97, offer=0.10, accept_single_word=0.98, accept_sound_alike=0.98
    ),
)
_TWO_PASS_MODEL = FusionModel(
    TWO_PASS_WEIGHTS,
    quiet=AcceptanceThresholds(
        accept=0.92, offer=0.25, accept_single_word=0.93, accept_sound_alike=0.985
    ),
    noisy=AcceptanceThresholds(
        accept=0.945, offer=0.25, accept_single_word=0.945, accept_sound_alike=0.99
    ),
)
_SECOND_PASS_MODEL = FusionModel(
    SECOND_PASS_WEIGHTS,
    quiet=AcceptanceThresholds(
        accept=0.95, offer=0.30, accept_single_word=0.95, accept_sound_alike=0.97
    ),
    noisy=AcceptanceThresholds(
        accept=0.985, offer=0.30, accept_single_word=0.985, accept_sound_alike=0.995
    ),
)
# Read off the tuning recordings: notes in quiet, in pink noise, wind and recorded noise, numbers
# said by people, 69 minutes of their other talk; each voice judged by a fit on the others, its
# phones told by a layer that has not heard it. Together five wrong readings lie above their bar,
# of 1,881 notes, all in noise, and nothing of people's talk. The quick one alone lacks the other's
# opinion: six of notes, two of numbers and five of people's talk.


def fusion_model_for(
    first_pass: FirstPassRecognizer | None, second_pass: SecondPassRecognizer | None
) -> FusionModel:
    """The company that these listeners make."""
    if second_pass is None:
        return FIRST_PASS_MODEL
    return _TWO_PASS_MODEL if isinstance(first_pass, AligningRecognizer) else _SECOND_PASS_MODEL
