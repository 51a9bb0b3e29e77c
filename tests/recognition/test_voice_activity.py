"""The detector tells speech from none, the same for the same stream, whatever was heard before."""

from __future__ import annotations

import hashlib

import numpy as np
import pytest

from tests.recognition.speaking import demo, hiss
from voicelog.audio.resampling import Samples
from voicelog.recognition import voice_activity
from voicelog.recognition.voice_activity import FRAME, SpeechDetector

PUBLISHED_SHA256 = "1a153a22f4509e292a94e67d6f9b85e8deb25b4988682b7e174c65279d8788e3"
"""Of src/silero_vad/data/silero_vad.onnx in github.com/snakers4/silero-vad."""


def probabilities(sound: Samples) -> list[float]:
    detector = SpeechDetector()
    frames = sound[: len(sound) // FRAME * FRAME].reshape(-1, FRAME)
    return [detector.probability(frame) for frame in frames]


def test_the_model_is_the_one_that_its_makers_publish() -> None:
    found = hashlib.sha256(voice_activity._MODEL.read_bytes()).hexdigest()
    assert found == PUBLISHED_SHA256


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
