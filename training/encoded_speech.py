"""What was kept of the training speech once encoded, for a layer to learn from.

Apart from what makes it (encoder_frames.py), so that layers can be trained where no recognizer is
installed.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tests.bench.voices import data_dir

__all__ = ["EncodedUtterance", "encoded_file", "encoded_utterances"]


@dataclass(frozen=True)
class EncodedUtterance:
    """What the model makes of one utterance, shape (frames of 20 ms, width), the indices of its
    phones, and whose voice it is (layer_files.SPEAKER_OF), of a mix all of them."""

    people: frozenset[str]
    frames: NDArray[np.float16]
    phones: NDArray[np.uint8]


def encoded_file(voice: str, folder: str) -> Path:
    """Where the utterances of a voice are kept, encoded by the model that has this folder."""
    return data_dir() / folder / f"{voice}.npz"


def encoded_utterances(folder: str) -> Iterator[EncodedUtterance]:
    """All that was kept of a model and that CTC can learn from."""
    for path in sorted((data_dir() / folder).glob("x-*.npz")):
        with np.load(path) as kept:
            people = frozenset(str(kept["people"]).split("+"))
            frames = np.split(kept["frames"], np.cumsum(kept["frame_counts"])[:-1])
            phones = np.split(kept["phones"], np.cumsum(kept["phone_counts"])[:-1])
        for some, said in zip(frames, phones, strict=True):
            if len(some) > len(said) + int(np.sum(said[1:] == said[:-1])):
                yield EncodedUtterance(people, some, said)
