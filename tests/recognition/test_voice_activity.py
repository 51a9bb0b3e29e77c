"""The detector tells speech from none, the same for the same stream, whatever was heard before."""

from __future__ import annotations

import numpy as np
import pytest

from tests.recognition.speaking import demo, hiss
from voicelog.audio.resampling import Samples
from voicelog.recognition.voice_activity import FRAME, SpeechDetector


def probabilities(sound: Samples) -> list[float]:
    detector = SpeechDetector()
    frames = sound[: len(sound) // FRAME * FRAME].reshape(-1, FRAME)
    return [detector.probability(frame) for frame in frames]


def test_speech_is_likely_and_noise_is_not() -> None:
    assert max(probabilities(hiss(5.0, 0.01))) < 0.5
    assert max(probabilities(demo("day1-bracken", 5.0))) > 0.95


def test_the_same_stream_gives_the_same_probabilities() -> None:
    sound = demo("day1-bracken", 5.0)
    assert probabilities(sound) == probabilities(sound)


def test_what_was_heard_before_counts() -> None:
    sound = demo("day1-bracken", 5.0)
    assert probabilities(sound)[60:] != probabilities(sound[60 * FRAME :])


@pytest.mark.parametrize("shape", [(0,), (FRAME - 1,), (FRAME + 1,), (1, FRAME)])
def test_a_frame_of_another_length_is_refused(shape: tuple[int, ...]) -> None:
    with pytest.raises(ValueError, match="wanted"):
        SpeechDetector().probability(np.zeros(shape, np.float32))
