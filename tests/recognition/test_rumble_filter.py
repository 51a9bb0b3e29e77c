"""The filter before the detector: as SciPy's, however the stream is cut, and what it is for."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.signal import butter, sosfilt

from tests.bench.field_noise import FIELD
from tests.recognition.speaking import demo
from voicelog.audio.resampling import RATE, Samples
from voicelog.recognition.rumble_filter import CUTOFF_HZ, RumbleFilter
from voicelog.recognition.segmenter import segments


def filtered(sound: Samples, length: int = 512) -> Samples:
    held = RumbleFilter()
    return np.concatenate(
        [held.next(sound[at : at + length], rumble=True) for at in range(0, len(sound), length)]
    )


def test_it_is_the_butterworth_filter_that_scipy_makes() -> None:
    sound = np.random.default_rng(1).standard_normal(20_000).astype(np.float32)
    sections = butter(4, CUTOFF_HZ, "high", fs=RATE, output="sos")
    assert filtered(sound) == pytest.approx(sosfilt(sections, sound), abs=1e-5)


@given(st.integers(1, 1024))
def test_how_the_stream_is_cut_changes_nothing_that_matters(length: int) -> None:
    sound = np.random.default_rng(2).standard_normal(3_000).astype(np.float32)
    assert filtered(sound, length) == pytest.approx(filtered(sound), abs=1e-5)


def test_a_frame_that_is_too_long_is_refused() -> None:
    with pytest.raises(ValueError, match="wanted 1024 at most"):
        RumbleFilter().next(np.zeros(1025, np.float32), rumble=True)


def test_speech_is_found_under_a_rumble_that_hid_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """Gusts so strong that they hold ten times the power of the speech."""
    sound = demo("day1-bracken", 12.0)
    found = [(one.start, one.end) for one in segments([sound])]
    loud = np.sqrt(np.mean(sound**2) * 10)
    wind = FIELD["gusts"].make(len(sound), np.random.default_rng(5), ()) * np.float32(loud)

    def kept() -> int:
        in_wind = [(one.start, one.start + len(one.sound)) for one in segments([sound + wind])]
        return sum(
            any(start <= begun + RATE // 5 and end <= stop for start, stop in in_wind)
            for begun, end in found
        )

    assert kept() == len(found)
    monkeypatch.setattr(RumbleFilter, "next", lambda _, frame, **__: frame)
    assert kept() < len(found)
