"""Where a segment is cut: at what is quiet, and at what is no speech though wind is loud there."""

from __future__ import annotations

import numpy as np
import pytest

from tests.recognition.speaking import burst
from voicelog.audio.resampling import RATE, Samples
from voicelog.recognition.pause_split import MARGIN, split_at_pauses
from voicelog.recognition.segmenter import Segment
from voicelog.recognition.voice_activity import FRAME

SAID, PAUSE = 30, 20
"""Frames."""


def two_bursts(wind_rms: float) -> Samples:
    said = burst(1.2)[: SAID * FRAME]
    sound = np.concatenate((said, np.zeros(PAUSE * FRAME, np.float32), said))
    time = np.arange(len(sound)) / RATE
    wind = wind_rms * np.sqrt(2) * np.sin(2 * np.pi * 60.0 * time)
    return np.asarray(sound + wind, np.float32)


def segment(sound: Samples, *, heard_pause: bool) -> Segment:
    speech = np.ones(len(sound) // FRAME, np.bool_)
    speech[SAID : SAID + PAUSE] = not heard_pause
    return Segment(16000, 16000 + len(sound), sound, None, speech)


@pytest.mark.parametrize(
    ("wind_rms", "heard_pause", "pieces"),
    [(0.0, False, 2), (0.0, True, 2), (0.2, True, 2), (0.2, False, 0)],
    ids=["quiet", "quiet, no speech", "wind, no speech", "wind throughout, speech throughout"],
)
def test_a_pause_is_what_is_quiet_or_no_speech(
    wind_rms: float, heard_pause: bool, pieces: int
) -> None:
    assert len(split_at_pauses(segment(two_bursts(wind_rms), heard_pause=heard_pause))) == pieces


def test_a_piece_is_its_stretch_of_the_segment_with_a_little_of_the_pause() -> None:
    whole = segment(two_bursts(0.2), heard_pause=True)
    first, second = split_at_pauses(whole)
    assert first.start == whole.start
    assert len(first.sound) == (SAID + MARGIN) * FRAME
    assert second.start == whole.start + (SAID + PAUSE - MARGIN) * FRAME
    for piece in (first, second):
        begin = piece.start - whole.start
        assert np.array_equal(piece.sound, whole.sound[begin : begin + len(piece.sound)])


def test_a_short_gap_parts_nothing() -> None:
    whole = segment(two_bursts(0.2), heard_pause=False)
    whole.speech[SAID : SAID + 5] = False
    assert split_at_pauses(whole) == ()
