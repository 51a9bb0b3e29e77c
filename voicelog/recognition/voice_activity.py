"""How likely each frame of a stream is speech: Silero's voice activity detector.

It hands frame after frame to the network (silero_network.py), without the rumble of wind
(rumble_filter.py), and keeps for it what belongs to the stream. Each frame is worked out by itself,
in a file as in a live session, so how the sound is cut into blocks changes no bit of the result.
"""

from __future__ import annotations

import numpy as np

from voicelog.audio.resampling import Samples
from voicelog.recognition.rumble_filter import RumbleFilter
from voicelog.recognition.silero_network import CONTEXT, FRAME, LstmState, shipped_network

__all__ = ["FRAME", "SpeechDetector"]


class SpeechDetector:
    """Tells of the frames of one stream, in order, how likely each is speech.

    What it remembers begins anew with each detector: make one for each stream. Raises
    DetectorFileError when the weights that ship are damaged.
    """

    def __init__(self) -> None:
        self._network = shipped_network()
        self._state = LstmState.at_start()
        self._context = np.zeros(CONTEXT, np.float32)
        self._filter = RumbleFilter()

    def probability(self, frame: Samples, gain: float = 1.0, *, rumble: bool = False) -> float:
        """How likely the next frame of the stream is speech, 0 to 1.

        frame: FRAME samples of mono float32 at 16 kHz, full scale -1 to 1; ValueError for
        another number of them. gain: what they, and what is looked at before them, are multiplied
        by. rumble: whether the noise is one, which is left out.
        """
        if frame.shape != (FRAME,):
            raise ValueError(f"Found a frame of shape {frame.shape}, wanted ({FRAME},).")
        held = self._filter.next(frame, rumble=rumble)
        sound = np.concatenate((self._context, held), dtype=np.float32)
        likely, self._state = self._network(sound * np.float32(gain), self._state)
        self._context = sound[-CONTEXT:]
        return likely
