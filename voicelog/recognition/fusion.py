"""What each feature of a reading weighs, and from which probability on a reading stands.

One set for each set of recognizers that may hear a segment; all ship in the artifact
(trained_artifact.py) and are made by training/.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from pydantic import field_serializer

from voicelog.model import FrozenModel
from voicelog.recognition.noise_reduction import NOISY_DB
from voicelog.recognition.quick_recognizer import (
    AcceptanceThresholds,
    AligningRecognizer,
    QuickRecognizer,
)

if TYPE_CHECKING:
    from voicelog.recognition.careful_recognizer import CarefulRecognizer

__all__ = ["FusionModel", "FusionModels"]


class FusionModel(FrozenModel):
    """The weights of one set of recognizers, and the thresholds for the probabilities they give.

    weights: by the name of the feature (features.py), which tells its unit.
    quiet, noisy: where the loud frames of a segment stand at least NOISY_DB over the noise, and
        where less.
    """

    weights: Mapping[str, float]
    quiet: AcceptanceThresholds
    noisy: AcceptanceThresholds

    @field_serializer("quiet", "noisy")
    def _by_name(self, thresholds: AcceptanceThresholds) -> dict[str, float]:
        known = thresholds._asdict()
        return {name: value for name, value in known.items() if value is not None}

    def thresholds(self, above_noise_db: float) -> AcceptanceThresholds:
        """The thresholds for a segment whose loud frames stand so far above the noise (dB)."""
        return self.quiet if above_noise_db >= NOISY_DB else self.noisy


class FusionModels(FrozenModel):
    """The fusion model of each set of recognizers.

    quick: the quick recognizer alone; careful: the careful one alone; unaligned: both, where
    the quick one cannot align; both: both.
    """

    quick: FusionModel
    careful: FusionModel
    unaligned: FusionModel
    both: FusionModel

    def of(self, quick: QuickRecognizer | None, careful: CarefulRecognizer | None) -> FusionModel:
        """The model for these together."""
        if careful is None:
            return self.quick
        if quick is None:
            return self.careful
        return self.both if isinstance(quick, AligningRecognizer) else self.unaligned
