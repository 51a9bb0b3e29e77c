"""How likely each phone is at each moment of a segment, read off Whisper's own view of it.

A small layer on the output of the model's encoder, trained with connectionist temporal
classification (CTC; Graves, Fernandez, Gomez and Schmidhuber, ICML 2006) on synthetic voices
and people in noise (training/). What an encoder puts out is a language of its own: a layer serves
the one model that it was trained on.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from voicelog.grammar.pronunciation import PHONES
from voicelog.recognition.array_archive import read_arrays

if TYPE_CHECKING:
    from os import PathLike

__all__ = [
    "BESIDE",
    "BLANK",
    "PHONE_INDEX",
    "STEP",
    "PhoneLayer",
    "Posteriors",
    "gelu",
    "log_softmax",
]

Posteriors = NDArray[np.float32]
"""Natural logarithm of how likely each phone is, shape (frames, 1 + phones); see PHONE_INDEX."""

STEP = 320
"""Samples (20 ms) from one frame to the next."""
BLANK = 0
"""Where in a row "no phone begins or goes on here" stands."""
PHONE_INDEX = {phone: place for place, phone in enumerate(sorted(PHONES), start=1)}
"""Where in a row each phone stands."""

BESIDE = "/beside"
"""What the name of the part of a block that looks at neighbours ends with."""
_HALF = (2 / np.pi) ** 0.5


class PhoneLayer:
    """Blocks over the output of the encoder, each of which looks a few frames to either side.

    The numbers of a frame are made fewer (`begin`). A block normalises those of each frame, weighs
    each with the same one of its neighbours (`beside`, a depthwise convolution), puts them through
    two dense layers with GELU between (`up`, `down`), and adds what comes out to what went in. At
    the end they are normalised, and a dense layer (`end`) makes scores of the phones of them.
    """

    def __init__(self, path: str | PathLike[str]) -> None:
        """Read its weights, an archive of NumPy arrays (numpy.savez). Raises ValueError where it
        holds others, as layers of versions before 15 do."""
        self._weights = read_arrays(path)
        if missing := {"begin", "begin bias", "end", "end bias"} - {*self._weights}:
            raise ValueError(f"it holds no '{min(missing)}'")
        self.width = len(self._weights["begin"])
        """Numbers in each frame of the encoder's output."""
        self._blocks = tuple(
            name.removesuffix(BESIDE) for name in sorted(self._weights) if name.endswith(BESIDE)
        )

    def __call__(self, encoded: NDArray[np.floating]) -> Posteriors:
        """The posteriors of frames of the encoder's output, shape (frames, width), in order."""
        known = self._weights
        frames = encoded.astype(np.float32) @ known["begin"] + known["begin bias"]
        for block in self._blocks:
            inner = _normalised(frames) * known[f"{block}/gain"] + known[f"{block}/shift"]
            inner = _with_neighbours(inner, known[block + BESIDE])
            inner = gelu(inner @ known[f"{block}/up"] + known[f"{block}/up bias"])
            frames = frames + inner @ known[f"{block}/down"] + known[f"{block}/down bias"]
        return log_softmax(_normalised(frames) @ known["end"] + known["end bias"])


def _normalised(frames: NDArray[np.float32]) -> NDArray[np.float32]:
    """Each frame less its mean, over its standard deviation."""
    centred = frames - frames.mean(axis=1, keepdims=True)
    return np.asarray(
        centred / np.sqrt(np.square(centred).mean(axis=1, keepdims=True) + 1e-5), np.float32
    )


def _with_neighbours(
    frames: NDArray[np.float32], weights: NDArray[np.float32]
) -> NDArray[np.float32]:
    """The sum over k of frame t + k - steps // 2, each number times its own of weights[k]; beyond
    either end there is nothing. frames: shape (frames, width); weights: (steps, width), steps
    odd."""
    steps, count = len(weights), len(frames)
    padded = np.pad(frames, ((steps // 2, steps // 2), (0, 0)))
    found = padded[:count] * weights[0]
    for step in range(1, steps):
        found += padded[step : step + count] * weights[step]
    return np.asarray(found, np.float32)


def gelu(inner: NDArray[np.float32]) -> NDArray[np.float32]:
    """GELU in its tanh form (Hendrycks and Gimpel, arXiv 1606.08415), of each number."""
    bent = 1.0 + 0.044715 * np.square(inner)  # a power of 3 takes 30 times as long
    inner *= 0.5 * (1.0 + np.tanh(_HALF * inner * bent))
    return inner


def log_softmax(scores: NDArray[np.floating]) -> Posteriors:
    """Scores as posteriors: each row's likelihoods made to sum up to 1."""
    shifted = scores - scores.max(axis=1, keepdims=True)
    return np.asarray(shifted - np.log(np.exp(shifted).sum(axis=1, keepdims=True)), np.float32)
