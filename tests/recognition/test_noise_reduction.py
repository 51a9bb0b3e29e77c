"""A Wiener filter by the estimate of Ephraim and Malah (1984): less noise, the same speech."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.recognition.speaking import burst, hiss
from voicelog.audio.resampling import RATE, Samples
from voicelog.recognition.noise_reduction import (
    FFT_BINS,
    FFT_LENGTH,
    level_above_noise_db,
    mean_power,
    power,
    reduce_noise,
    speech_band_above_noise_db,
)
from voicelog.recognition.quick_recognizer import Spectrum

SILENCE = np.zeros(FFT_BINS)


def pink(seconds: float, rms: float, seed: int) -> Samples:
    """Noise with as much power in each octave as in the next."""
    rng = np.random.default_rng(seed)
    spectrum = np.fft.rfft(rng.standard_normal(round(seconds * RATE)))
    spectrum /= np.sqrt(np.maximum(np.arange(len(spectrum)), 20 * seconds))
    noise = np.fft.irfft(spectrum)
    return (rms * noise / float(np.sqrt(np.mean(np.square(noise))))).astype(np.float32)


def spectrum_of(noise: Samples) -> Spectrum:
    frames = noise[: len(noise) // FFT_LENGTH * FFT_LENGTH].reshape(-1, FFT_LENGTH)
    spectrum: Spectrum = np.mean([power(frame) for frame in frames], axis=0)
    return spectrum


def db(sound: Samples) -> float:
    return 10 * math.log10(float(np.mean(np.square(sound, dtype=np.float64))))


def snr_db(speech: Samples, found: Samples) -> float:
    """Speech over what is not it (dB), the speech scaled to lie in what was found."""
    share = float(np.dot(found, speech) / np.dot(speech, speech))
    return db(share * speech) - db(found - share * speech)


NOISE = spectrum_of(pink(4.0, 0.02, seed=1))


def test_where_there_is_no_noise_nothing_is_taken() -> None:
    speech = burst(1.0)
    assert np.allclose(reduce_noise(speech, SILENCE), speech, atol=1e-3)


def test_pink_noise_alone_is_turned_down_by_nearly_the_most_it_may_be() -> None:
    noise = pink(3.0, 0.02, seed=2)
    assert 12 < db(noise) - db(reduce_noise(noise, NOISE)) <= 20.5  # measured: 17 dB


@pytest.mark.parametrize(("at_db", "least_db"), [(0.0, 5.0), (10.0, 3.0), (20.0, 0.5)])
def test_speech_stands_farther_above_pink_noise(at_db: float, least_db: float) -> None:
    speech = np.concatenate([hiss(0.5, 1e-5), burst(1.0), hiss(0.5, 1e-5), burst(1.0, 120.0)])
    noise = pink(len(speech) / RATE, 10 ** ((db(speech) - at_db) / 20), seed=3)
    before = speech + noise
    after = reduce_noise(before, spectrum_of(noise))
    assert snr_db(speech, before) == pytest.approx(at_db, abs=0.3)
    assert snr_db(speech, after) > at_db + least_db


def test_at_rest_the_gain_is_wieners_for_the_decision_directed_estimate() -> None:
    # A tone of which every frame is the same, with r = 4 times the noise's power in each bin:
    # the ratio x of speech to noise that is supposed comes to rest where
    # x = a G^2 r + (1 - a) (r - 1), with a = 0.96 and Wiener's gain G = x / (1 + x).
    tone = (0.1 * np.sin(2 * np.pi * 1000 * np.arange(2 * RATE) / RATE)).astype(np.float32)
    after = reduce_noise(tone, power(tone[FFT_LENGTH : 2 * FFT_LENGTH]) / 4)
    middle = slice(RATE, 3 * RATE // 2)
    gain = math.sqrt(np.mean(np.square(after[middle])) / np.mean(np.square(tone[middle])))
    x = gain / (1 - gain)
    assert 1.3 < x < 1.7
    assert x == pytest.approx(0.96 * gain**2 * 4 + 0.04 * 3, rel=0.05)


@given(st.integers(0, 3 * FFT_LENGTH + 7))
def test_it_is_as_long_as_before(samples: int) -> None:
    after = reduce_noise(hiss(1.0, 0.1)[:samples], NOISE)
    assert after.shape == (samples,)
    assert after.dtype == np.float32


def test_it_never_makes_anything_louder() -> None:
    for sound in (burst(0.5), hiss(0.5, 0.1), burst(0.5) + hiss(0.5, 0.1)):
        assert db(reduce_noise(sound, NOISE)) <= db(sound) + 0.01


def test_the_mean_power_of_a_spectrum_is_the_mean_square_of_its_samples() -> None:
    for rms in (1e-3, 1e-2):
        assert mean_power(spectrum_of(hiss(4.0, rms))) == pytest.approx(rms**2, rel=0.03)


@pytest.mark.parametrize("over_db", [5.0, 20.0, 35.0])
def test_loudness_is_told_over_the_noise(over_db: float) -> None:
    noise = hiss(2.0, 1e-3)
    loud = hiss(2.0, 1e-3 * 10 ** (over_db / 20), seed=2)
    # The 90th percentile of white noise lies a little above its mean.
    assert level_above_noise_db(loud, spectrum_of(noise)) == pytest.approx(over_db, abs=1.5)


@pytest.mark.parametrize("noise", [None, SILENCE], ids=["no noise known", "no noise"])
def test_loudness_of_silence_is_a_number_too(noise: Spectrum | None) -> None:
    for samples in (0, 1, 160, RATE):
        assert math.isfinite(level_above_noise_db(np.zeros(samples, np.float32), noise))
    assert level_above_noise_db(burst(0.5), noise) > 40


@pytest.mark.parametrize("over_db", [5.0, 20.0, 35.0])
def test_the_speech_band_alone_is_told_over_the_noise_in_it(over_db: float) -> None:
    noise = hiss(2.0, 1e-3)
    loud = hiss(2.0, 1e-3 * 10 ** (over_db / 20), seed=2)
    rumble = 0.03 * np.sin(2 * np.pi * 90.0 * np.arange(2 * RATE) / RATE)
    for low in (0.0, rumble.astype(np.float32)):
        found = speech_band_above_noise_db(loud + low, spectrum_of(noise + low))
        # The 90th percentile of white noise lies a little above its mean.
        assert found == pytest.approx(over_db, abs=1.5)


def test_the_speech_band_of_silence_is_a_number_or_infinite_without_a_noise() -> None:
    for samples in (0, 1, 160, RATE):
        silence = np.zeros(samples, np.float32)
        assert speech_band_above_noise_db(silence, SILENCE) == 0.0
        assert speech_band_above_noise_db(silence, NOISE) < -20.0
        assert speech_band_above_noise_db(silence, None) == math.inf
