"""What each feature of a reading weighs, and from which probability on a reading stands.

One set for each set of passes that may hear a segment; all ship in the artifact
(trained_artifact.py) and are made by training/.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from pydantic import field_serializer

from voicelog.model import FrozenModel
from voicelog.recognition.first_pass import (
    AcceptanceThresholds,
    AligningRecognizer,
    FirstPassRecognizer,
)
from voicelog.recognition.noise_reduction import NOISY_DB

if TYPE_CHECKING:
    from voicelog.recognition.second_pass import SecondPassRecognizer

__all__ = ["FusionModel", "FusionModels"]


class FusionModel(FrozenModel):
    """The weights of one set of passes, and the thresholds for the probabilities they give.

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
    """The fusion model of each set of passes.

    first_pass: the first pass alone; second_pass: the second alone; unaligned: both, where the
    first cannot align; two_pass: both.
    """

    first_pass: FusionModel
    second_pass: FusionModel
    unaligned: FusionModel
    two_pass: FusionModel

    def of(
        self, first_pass: FirstPassRecognizer | None, second_pass: SecondPassRecognizer | None
    ) -> FusionModel:
        """The model for these together."""
        if second_pass is None:
            return self.first_pass
        if first_pass is None:
            return self.second_pass
        return self.two_pass if isinstance(first_pass, AligningRecognizer) else self.unaligned
