"""Silero's network for voice activity detection, in NumPy.

The network (MIT, "silero-vad" 6) looks at one frame of 32 ms at a time: a spectrum, four
convolutions, one cell that remembers (LSTM), one weight for each of its numbers. That is 0.6
million multiplications, which need no inference library: so it runs wherever NumPy does. The folder
detector/ holds its weights, their licence, and card.toml, which tells where they are from and their
SHA-256; `python -m training.detector` makes them from what Silero publishes.
"""

from __future__ import annotations

import hashlib
import io
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from voicelog.audio.resampling import Samples
from voicelog.model import VoicelogError
from voicelog.recognition.array_archive import read_arrays

__all__ = [
    "CONTEXT",
    "DETECTOR_CARD",
    "DETECTOR_FOLDER",
    "FRAME",
    "DetectorFileError",
    "LstmState",
    "SileroNetwork",
    "load_network",
    "shipped_network",
]

FRAME = 512
"""Samples in a frame: 32 ms at 16 kHz."""
CONTEXT = 64
"""Samples (4 ms) before a frame that the network looks at with it."""
HOP = 128
"""Samples (8 ms) from one spectrum to the next; each looks at two of these."""
BINS = 129
"""Frequencies of a spectrum: 0 to 8 kHz, 62.5 Hz apart."""
UNITS = 128
"""Numbers that the network remembers, twice."""

DETECTOR_FOLDER = Path(__file__).parent / "detector"
DETECTOR_CARD = "card.toml"

Floats = NDArray[np.float32]


class DetectorFileError(VoicelogError):
    """The weights of the voice activity detector are damaged or gone."""

    def __init__(self, folder: Path, problem: str) -> None:
        super().__init__(
            f"Found {problem} in '{folder}', wanted the weights of the voice activity detector "
            "that ship; install voicelog again."
        )


@dataclass(frozen=True, slots=True)
class LstmState:
    """What the network remembers of a stream: its output and its cell, each of shape (UNITS,)."""

    hidden: Floats
    cell: Floats

    @classmethod
    def at_start(cls) -> LstmState:
        """Nothing yet."""
        return cls(np.zeros(UNITS, np.float32), np.zeros(UNITS, np.float32))


class SileroNetwork:
    """The network with its weights. It remembers nothing itself, so that streams may share one.

    weights: float32 arrays by name. `basis` (256, 2 BINS): windowed cosines, then sines. For each
    convolution N from 1 to 4, `kernel N` (neighbours * inputs, outputs), the earliest neighbour
    first, and `bias N` (outputs,). `lstm kernel` (2 UNITS, 4 UNITS), with rows for the input, then
    for the output before, and `lstm bias` (4 UNITS,); their columns are the gates input, forget and
    output, then what is new. `output` (UNITS,) and `output bias` (1,).
    """

    def __init__(self, weights: Mapping[str, Floats]) -> None:
        self._weights = weights

    def __call__(self, sound: Samples, state: LstmState) -> tuple[float, LstmState]:
        """How likely a frame is speech (0 to 1), and what is remembered after it.

        sound: CONTEXT samples from before the frame (zeros at the start of a stream) and its FRAME
        samples, mono float32 at 16 kHz, full scale -1 to 1.
        """
        after = self._remember(self._encode(sound), state)
        score = np.maximum(after.hidden, 0.0) @ self._weights["output"]
        return float(_sigmoid(score + self._weights["output bias"])[0]), after

    def _encode(self, sound: Samples) -> Floats:
        """What the convolutions make of a frame, shape (UNITS,).

        Four magnitude spectra, 8 ms apart, of windows of 16 ms: the frame is followed by its own
        end mirrored, which stands for what is not there yet. Each convolution takes three
        neighbours, with zeros beyond the first and last, and is followed by max(0, x). The second
        and third take every other place, so of four spectra one row is left.
        """
        mirrored = np.concatenate((sound, sound[-2 : -2 - CONTEXT : -1])).reshape(-1, HOP)
        waves = np.concatenate((mirrored[:-1], mirrored[1:]), axis=1) @ self._weights["basis"]
        spectra = np.zeros((len(waves) + 2, BINS), np.float32)
        spectra[1:-1] = np.sqrt(waves[:, :BINS] ** 2 + waves[:, BINS:] ** 2)
        rows = self._dense("1", np.concatenate((spectra[:-2], spectra[1:-1], spectra[2:]), axis=1))
        zeros = np.zeros(UNITS, np.float32)
        first, second, third, fourth = rows
        begin, end = (zeros, first, second), (second, third, fourth)
        rows = self._dense("2", np.stack((np.concatenate(begin), np.concatenate(end))))
        # Of the third convolution's neighbours the first, of the fourth's all but the middle one
        # lie beyond the sound: their weights are left out.
        return self._dense("4", self._dense("3", rows.reshape(-1)))

    def _dense(self, name: str, rows: Floats) -> Floats:
        """max(0, rows W + b), shape (..., outputs), of rows of neighbours side by side."""
        product = rows @ self._weights[f"kernel {name}"] + self._weights[f"bias {name}"]
        active: Floats = np.maximum(product, np.float32(0.0))
        return active

    def _remember(self, encoded: Floats, before: LstmState) -> LstmState:
        """One step of a long short-term memory with forget gates (Gers, Schmidhuber and Cummins,
        Neural Computation 12, 2000).

        With i, f, o = sigmoid(W x + b) and g = tanh(W x + b), where x is the input and the output
        before: cell = f * cell before + i * g; output = o * tanh(cell).
        """
        x = np.concatenate((encoded, before.hidden))
        scores = x @ self._weights["lstm kernel"] + self._weights["lstm bias"]
        take, keep, show = _sigmoid(scores[: 3 * UNITS]).reshape(3, UNITS)
        cell = keep * before.cell + take * np.tanh(scores[3 * UNITS :])
        return LstmState(show * np.tanh(cell), cell)


def _sigmoid(scores: Floats) -> Floats:
    """1 / (1 + exp(-x)), in the form that cannot overflow: (1 + tanh(x / 2)) / 2."""
    half = np.float32(0.5)
    shares: Floats = half + half * np.tanh(half * scores)
    return shares


@cache
def shipped_network() -> SileroNetwork:
    """The network of this installation, read once (1.2 MB). Raises DetectorFileError."""
    return load_network(DETECTOR_FOLDER)


def load_network(folder: Path) -> SileroNetwork:
    """Read the weights of a folder and hold them against the hash of its card.

    Raises DetectorFileError with what is wrong.
    """
    try:
        card = tomllib.loads((folder / DETECTOR_CARD).read_text("utf-8"))
        name, sha256 = str(card["file"]), str(card["sha256"])
    except (OSError, ValueError, KeyError) as problem:
        raise DetectorFileError(folder, f"no card that can be read ({problem})") from problem
    try:
        kept = (folder / name).read_bytes()
    except OSError as problem:
        raise DetectorFileError(folder, f"no {name}") from problem
    if hashlib.sha256(kept).hexdigest() != sha256:
        raise DetectorFileError(folder, f"another {name} than the card tells of")
    return SileroNetwork(read_arrays(io.BytesIO(kept)))
