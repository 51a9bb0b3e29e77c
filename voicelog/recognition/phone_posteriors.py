"""How likely each phone is at each moment of a segment, read off Whisper's own view of it.

A small layer on the output of the model's encoder, trained with connectionist temporal
classification (CTC; Graves, Fernandez, Gomez and Schmidhuber, ICML 2006) on synthetic voices
in noise (training/). It may have been trained together with low-rank changes of the encoder, which
lie in the same archive; then it reads the output of the encoder with these (encoder_file.py). What
an encoder puts out is a language of its own: a layer serves the one model that it was trained on.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from voicelog.grammar.pronunciation import PHONES
from voicelog.recognition.array_archive import read_arrays

if TYPE_CHECKING:
    from os import PathLike

__all__ = [
    "BLANK",
    "PHONE_INDEX",
    "STEP",
    "EncoderChanges",
    "PhoneLayer",
    "Posteriors",
    "gelu",
    "log_softmax",
]

Posteriors = NDArray[np.float32]
"""Natural logarithm of how likely each phone is, shape (frames, 1 + phones); see PHONE_INDEX."""

EncoderChanges = Mapping[str, tuple[NDArray[np.float32], NDArray[np.float32]]]
"""By the name of a matrix of the encoder: `up`, shape (rows, rank), and `down`, (rank, columns)."""

STEP = 320
"""Samples (20 ms) from one frame to the next."""
BLANK = 0
"""Where in a row "no phone begins or goes on here" stands."""
PHONE_INDEX = {phone: place for place, phone in enumerate(sorted(PHONES), start=1)}
"""Where in a row each phone stands."""

UP, DOWN = " up", " down"
"""What the names of the two parts of a change end with."""
_HALF = (2 / np.pi) ** 0.5


class PhoneLayer:
    """Two dense layers over a few neighbouring frames."""

    def __init__(self, path: str | PathLike[str]) -> None:
        """Read its weights, an archive of NumPy arrays (numpy.savez)."""
        self._weights = read_arrays(path)
        narrow, wide = self._weights["narrow"], self._weights["wide"]
        self.width = len(narrow)
        """Numbers in each frame of the encoder's output."""
        self._beside = (len(wide) // narrow.shape[1] - 1) // 2
        self.encoder_changes: EncoderChanges = {
            (matrix := name.removesuffix(UP)): (up, self._weights[matrix + DOWN])
            for name, up in self._weights.items()
            if name.endswith(UP)
        }
        """Changes of the encoder that it was trained together with."""

    def __call__(self, encoded: NDArray[np.floating]) -> Posteriors:
        """The posteriors of frames of the encoder's output, shape (frames, width), in order."""
        known = self._weights
        narrow = encoded.astype(np.float32) @ known["narrow"] + known["narrow bias"]
        beside = np.pad(narrow, ((self._beside, self._beside), (0, 0)))
        count, steps = len(narrow), 2 * self._beside + 1
        window = np.concatenate([beside[step : step + count] for step in range(steps)], axis=1)
        inner = window @ known["wide"] + known["wide bias"]
        return log_softmax(gelu(inner) @ known["out"] + known["out bias"])


def gelu(inner: NDArray[np.float32]) -> NDArray[np.float32]:
    """GELU in its tanh form (Hendrycks and Gimpel, arXiv 1606.08415), of each number."""
    inner *= 0.5 * (1.0 + np.tanh(_HALF * (inner + 0.044715 * inner**3)))
    return inner


def log_softmax(scores: NDArray[np.floating]) -> Posteriors:
    """Scores as posteriors: each row's likelihoods made to sum up to 1."""
    shifted = scores - scores.max(axis=1, keepdims=True)
    return np.asarray(shifted - np.log(np.exp(shifted).sum(axis=1, keepdims=True)), np.float32)
