"""Loudness in two bands: tones whose power is known from their amplitude (a^2 / 2)."""

from __future__ import annotations

import numpy as np
import pytest

from voicelog.audio.loudness_strip import FLOOR_DBFS, STEP_S, LoudnessStrip
from voicelog.audio.resampling import RATE


@pytest.mark.parametrize(("pitch_hz", "band"), [(1000, 0), (60, 1)])
def test_a_tone_is_as_loud_as_its_amplitude_says_in_its_band_alone(
    pitch_hz: int, band: int
) -> None:
    at = np.arange(RATE) / RATE
    tone = (0.3 * np.sin(2 * np.pi * pitch_hz * at)).astype(np.float32)
    strip = LoudnessStrip()
    for block in np.split(tone, [7, 100, 5000]):  # however it is cut
        strip.add(block)
    levels = np.frombuffer(strip.levels, np.uint8).reshape(-1, 2)
    assert len(levels) == round(1 / STEP_S)
    dbfs = (1 - levels[:, band] / 255) * FLOOR_DBFS
    assert dbfs == pytest.approx(10 * np.log10(0.3**2 / 2), abs=0.2)
    assert levels[:, 1 - band].max() == 0
    silent = LoudnessStrip()
    silent.add(np.zeros(RATE, np.float32))
    assert set(silent.levels) == {0}
