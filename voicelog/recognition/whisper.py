"""Whisper's encoder with layers of ours over it, through CTranslate2.

The model was made to write down half a minute of anything. Here it hears one segment in a
window of 10 s, which costs an eighth, and its encoder's output is read by a layer that tells
phones, and by one that tells "thirteen" from "thirty"; its decoder is never asked. It knows
nothing else of words or meanings.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

import ctranslate2
import numpy as np
from faster_whisper.feature_extractor import FeatureExtractor
from numpy.typing import NDArray

from voicelog.audio.resampling import RATE, Samples
from voicelog.recognition.encoder_file import encoder_files
from voicelog.recognition.phone_posteriors import (
    PhoneLayer,
    Posteriors,
    log_softmax,
)
from voicelog.recognition.recognizer_names import careful_name
from voicelog.recognition.teen_layer import NumberPlace
from voicelog.recognition.vosk_models import ModelError
from voicelog.recognition.whisper_model import WhisperModel

__all__ = ["WhisperEncoder", "half_ahead"]

TeenOdds = Callable[[Sequence[NDArray[np.float32]], NumberPlace], float]
"""What a TeenLayer does."""

WINDOWS = (10, 15, 30)
"""Seconds of sound that the model may be given; the shortest that holds a segment is."""
FRAMES = 100
"""Frames a second of the model's features."""
FRAMES_PER_STEP = 2
"""Frames that the encoder makes one of: 20 ms."""


class WhisperEncoder:
    """The encoder of one model on one thread, with the layers that were trained for it.

    layer: None for the encoder alone. Making one takes 0.1 s. Raises ModelError when the model
    cannot be loaded.
    """

    def __init__(
        self,
        model: WhisperModel,
        layer: PhoneLayer | None = None,
        teen_layer: TeenOdds | None = None,
    ) -> None:
        self.layer, self.teen_layer = layer, teen_layer
        self.name = careful_name(model.name, model.own_layer)
        self._model = _load(model.folder)
        self._features = FeatureExtractor(feature_size=self._model.n_mels)
        self._encoded: list[ctranslate2.StorageView] = []
        self._frames = 0

    def load_segment(self, *sounds: Samples) -> None:
        """Take in a segment, as it is and in other ways; what is asked then is about it."""
        self._encoded = [self._encode(sound) for sound in sounds]

    def _encode(self, sound: Samples) -> ctranslate2.StorageView:
        seconds = next((w for w in WINDOWS if len(sound) <= w * RATE), WINDOWS[-1])
        features = self._features(sound)[:, : seconds * FRAMES]
        window = np.zeros((1, len(features), seconds * FRAMES), np.float32)
        window[0, :, : features.shape[1]] = features
        self._frames = features.shape[1]
        return self._model.encode(ctranslate2.StorageView.from_array(window))

    def phones(self) -> Posteriors:
        """How likely each phone is at each 20 ms of the segment, on average (of the logarithms)
        over the ways it was given. Asked of an encoder that has a layer."""
        assert self.layer is not None, "has no layer"
        told = [self.layer(encoded) for encoded in self.encoded()]
        return told[0] if len(told) == 1 else log_softmax(np.mean(told, axis=0))

    def teen_odds(self, numbers: Sequence[NumberPlace]) -> tuple[float, ...]:
        """Of each of these numbers in the segment, ln of how likely it was said with -teen over how
        likely with -ty (nats); without a layer for that, what the phones tell."""
        if self.teen_layer is None:
            return tuple(one.ahead for one in numbers)
        ways = self.encoded()
        return tuple(self.teen_layer(ways, one) for one in numbers)

    def encoded(self) -> list[NDArray[np.float32]]:
        """What the encoder makes of each way: shape (frames of 20 ms, width)."""
        count = -(-self._frames // FRAMES_PER_STEP)
        return [np.array(one, np.float32)[0][:count] for one in self._encoded]


def half_ahead(_: Sequence[NDArray[np.float32]], number: NumberPlace) -> float:
    """Half of what the phones tell of a number in -teen (nats), for a model that has no layer for
    that: phones are surer of it than they should be."""
    return number.ahead / 2


def _load(folder: Path) -> ctranslate2.models.Whisper:
    try:
        return ctranslate2.models.Whisper(
            str(folder),
            device="cpu",
            compute_type="int8",
            intra_threads=1,
            inter_threads=1,
            files=encoder_files(folder),
        )
    except Exception as problem:  # CTranslate2 raises nothing more exact
        raise ModelError(
            f"Found a Whisper model in '{folder}' that cannot be loaded ({problem}), wanted a "
            "whole one; install the model again."
        ) from problem
