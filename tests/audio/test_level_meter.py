"""Peak, RMS, clipping and the speech-to-noise estimate."""

from __future__ import annotations

import numpy as np
import pytest
import soxr
from hypothesis import given, settings
from hypothesis import strategies as st

from voicelog.audio.level_meter import LevelMeter
from voicelog.audio.resampling import RATE
from voicelog.model import SoundLevel as Figures

from .making import Sound, noise, tone


def _measured(*blocks: Sound) -> Figures:
    meter = LevelMeter()
    for block in blocks:
        meter.add(block)
    return meter.result()


def _bursts(seconds: float, share: float, snr_db: float) -> Sound:
    """Noise in the voice band as "speech", 2 s at a time, over white noise."""
    count = max(1, round(seconds * share / 2))
    speech = np.zeros(round(seconds * RATE), dtype=np.float32)
    for place in range(count):
        start = int((place + 0.3) * len(speech) / count)
        speech[start : start + 2 * RATE] = noise(2, 0.1, seed=place + 10)
    return speech + noise(seconds, 0.1 * 10 ** (-snr_db / 20))


def test_nothing_measured_has_no_figures() -> None:
    assert LevelMeter().result() == Figures()
    assert _measured(np.zeros(0, dtype=np.float32)) == Figures()


def test_digital_silence_has_no_level() -> None:
    assert _measured(np.zeros(RATE, dtype=np.float32)) == Figures(
        peak_dbfs=None, rms_dbfs=None, clipped_share=0.0, snr_db=None
    )


def test_one_sample_is_measured() -> None:
    figures = _measured(np.array([-0.5], dtype=np.float32))
    assert figures.peak_dbfs == pytest.approx(-6.0206, abs=1e-4)
    assert figures.rms_dbfs == pytest.approx(-6.0206, abs=1e-4)


def test_the_negative_side_counts_for_the_peak() -> None:
    assert _measured(np.array([0.1, -1.0], dtype=np.float32)).peak_dbfs == 0.0


@settings(max_examples=30, deadline=None)
@given(st.lists(st.integers(0, 30_000), max_size=8), st.integers(0, 2**32 - 1))
def test_the_figures_are_the_same_however_the_sound_is_cut(cuts: list[int], seed: int) -> None:
    rng = np.random.default_rng(seed)
    sound = np.clip(
        rng.standard_normal(54_000) * np.repeat(10 ** rng.uniform(-4, 0.5, 54), 1000), -1, 1
    ).astype(np.float32)
    places = np.minimum(np.cumsum(cuts, dtype=int), len(sound))
    assert _measured(*np.split(sound, places)) == _measured(sound)


@pytest.mark.parametrize(
    ("wave", "share"),
    [
        ([0, 1, 1, 0], 0.0),
        ([0, 1, 1, 1], 0.75),
        ([-1, -1, -1, 0, 0, 1, 1, 0], 3 / 8),
        ([0.99, 1, 0.98, 0.97], 0.75),
        ([1, 1, 1, 1, 0.5, 1, 1, 1], 7 / 8),
    ],
)
def test_clipping_is_three_samples_in_a_row_at_full_scale(wave: list[float], share: float) -> None:
    sound = np.array(wave, dtype=np.float32)
    assert _measured(sound).clipped_share == share
    assert _measured(*np.split(sound, len(sound))).clipped_share == share


def test_sound_that_only_touches_full_scale_is_not_clipped() -> None:
    assert _measured(tone(997, 5, peak=1.0)).clipped_share == 0.0
    loud = noise(5, 0.1)
    assert _measured(loud / np.abs(loud).max()).clipped_share == 0.0


def test_clipping_is_still_seen_after_resampling() -> None:
    wave = tone(300, 3, rate=48_000, peak=2.0)
    true_share = float(np.mean(np.abs(wave) >= 1))  # 2/3 of the time
    out = soxr.resample(np.clip(wave, -1, 1), 48_000, RATE).astype(np.float32)
    measured = _measured(np.clip(out, -1, 1)).clipped_share
    assert measured is not None
    assert true_share * 0.6 < measured < true_share * 1.1


@pytest.mark.parametrize("snr_db", [5, 10, 20, 30, 40])
@pytest.mark.parametrize(("seconds", "share"), [(6, 0.6), (60, 0.2), (120, 0.05)])
def test_speech_to_noise_is_right_within_2_db(seconds: float, share: float, snr_db: float) -> None:
    assert _measured(_bursts(seconds, share, snr_db)).snr_db == pytest.approx(snr_db, abs=2)


def test_rumble_below_the_voice_does_not_count_as_noise() -> None:
    sound = _bursts(20, 0.3, 30)
    assert _measured(sound + tone(40, 20, peak=0.5)).snr_db == pytest.approx(30, abs=2)


@pytest.mark.parametrize(
    "sound",
    [noise(10, 0.1), tone(440, 10), noise(0.05, 0.1), noise(10, 0.1) + tone(1000, 10, peak=0.3)],
    ids=["noise", "tone", "too short", "tone in noise"],
)
def test_sound_that_never_changes_has_no_speech_to_noise(sound: Sound) -> None:
    assert _measured(sound).snr_db is None


def test_speech_between_digital_silence_stands_on_the_noise_of_16_bits() -> None:
    sound = np.zeros(10 * RATE, dtype=np.float32)
    sound[4 * RATE : 6 * RATE] = noise(2, 0.1)
    figures = _measured(sound)
    assert figures.snr_db == pytest.approx(76, abs=1.5)
