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
    "again": 1.56,
    "fit": 0.41,
    "fit in noise": -2.02,
    "least": 0.81,
    "untold_s": -0.82,
    "untold in noise": 0.29,
    "constant": 10.47,
    "single": -1.45,
    "loud": -0.50,
    "phones first": 0.38,
    "phones behind": 1.02,
    "phones short": 2.27,
    "phones between": 4.15,
    "noise": -5.02,
}
SECOND_PASS_WEIGHTS: Mapping[str, float] = {
    "constant": 7.04,
    "quick": 2.60,
    "single": -0.41,
    "loud": -0.75,
    "phones first": 0.57,
    "phones behind": 1.17,
    "phones short": 2.30,
    "phones between": 4.36,
    "noise": -1.29,
}
FIRST_PASS_WEIGHTS: Mapping[str, float] = {
    "quick": 1.46,
    "again": 1.57,
    "fit": 2.52,
    "fit in noise": -2.63,
    "least": 1.06,
    "untold_s": 0.21,
    "untold in noise": -0.17,
    "constant": 4.01,
    "single": 0.57,
    "loud": -0.36,
    "phones": 5.06,
    "again in noise": 3.12,
    "pace": 0.84,
    "noise": -5.38,
}


class FusionModel(NamedTuple):
    """Listeners that judge together: what their evidence weighs, and the bars for its sum, in
    quiet and in noise."""

    weights: Mapping[str, float]
    quiet: AcceptanceThresholds
    noisy: AcceptanceThresholds

    def bars(self, above_noise_db: float) -> AcceptanceThresholds:
        """The bars for a segment whose loud frames stand so far above the noise (dB)."""
        return self.quiet if above_noise_db >= NOISY_DB else self.noisy


FIRST_PASS_MODEL = FusionModel(
    FIRST_PASS_WEIGHTS,
    quiet=AcceptanceThresholds(sure=0.93, look=0.10, word=0.98, twin=0.97),
    noisy=AcceptanceThresholds(sure=0.97, look=0.10, word=0.98, twin=0.98),
)
_TWO_PASS_MODEL = FusionModel(
    TWO_PASS_WEIGHTS,
    quiet=AcceptanceThresholds(sure=0.92, look=0.25, word=0.93, twin=0.985),
    noisy=AcceptanceThresholds(sure=0.945, look=0.25, word=0.945, twin=0.99),
)
_SECOND_PASS_MODEL = FusionModel(
    SECOND_PASS_WEIGHTS,
    quiet=AcceptanceThresholds(sure=0.95, look=0.30, word=0.95, twin=0.97),
    noisy=AcceptanceThresholds(sure=0.985, look=0.30, word=0.985, twin=0.995),
)
# Read off the tuning recordings: notes in quiet, in pink noise, wind and recorded noise, numbers
# said by people, 69 minutes of their other talk; each voice judged by a fit on the others, its
# phones told by a layer that has not heard it. Together five wrong readings lie above their bar,
# of 1,881 notes, all in noise, and nothing of people's talk. The quick one alone lacks the other's
# opinion: six of notes, two of numbers and five of people's talk.


def fusion_model_for(
    quick: FirstPassRecognizer | None, careful: SecondPassRecognizer | None
) -> FusionModel:
    """The company that these listeners make."""
    if careful is None:
        return FIRST_PASS_MODEL
    return _TWO_PASS_MODEL if isinstance(quick, AligningRecognizer) else _SECOND_PASS_MODEL
