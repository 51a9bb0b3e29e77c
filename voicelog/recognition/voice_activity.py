"""How likely each frame of a stream is speech: Silero's voice activity detector (MIT).

The model lies in silero_vad/ as its makers publish it (github.com/snakers4/silero-vad, 6.2) and is
run by ONNX Runtime, which has wheels for 64-bit ARM too. It stands alone so that the rest of the
room knows neither the library nor what the model remembers from frame to frame. One thread keeps
sums in one order, so the same frames always give the same probabilities.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import onnxruntime

from voicelog.audio.resampling import RATE, Samples

__all__ = ["FRAME", "SpeechDetector"]

FRAME = 512
"""Samples in a frame: 32 ms, what the model takes."""
_CONTEXT = 64
"""Samples of the frame before that it takes with each."""
_STATE_SHAPE = (2, 1, 128)
"""Of its recurrent layer."""
_MODEL = Path(__file__).parent / "silero_vad" / "silero_vad.onnx"


class SpeechDetector:
    """Tells of the frames of one stream, in order, how likely each is speech.

    What it remembers begins anew with each detector: make one for each stream. Making one loads the
    model: a tenth of a second, 20 MB.
    """

    def __init__(self) -> None:
        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = options.inter_op_num_threads = 1
        self._session = onnxruntime.InferenceSession(
            str(_MODEL), options, providers=["CPUExecutionProvider"]
        )
        self._rate = np.array(RATE, np.int64)
        self._state = np.zeros(_STATE_SHAPE, np.float32)
        self._context = np.zeros(_CONTEXT, np.float32)

    def probability(self, frame: Samples) -> float:
        """How likely the next frame of the stream is speech, 0 to 1.

        frame: FRAME samples of mono float32 at 16 kHz, full scale -1 to 1; ValueError for
        another number of them.
        """
        if frame.shape != (FRAME,):
            raise ValueError(f"Found a frame of shape {frame.shape}, wanted ({FRAME},).")
        heard = np.concatenate((self._context, frame)).astype(np.float32, copy=False)
        likely, self._state = self._session.run(
            None, {"input": heard[np.newaxis], "state": self._state, "sr": self._rate}
        )
        self._context = heard[-_CONTEXT:]
        return float(likely[0, 0])
