"""Take steady noise out of a segment, for a second hearing of it.

A Wiener filter with the decision-directed estimate of the speech (Ephraim and Malah, IEEE
Trans. ASSP 32(6):1109-1121, 1984), from the spectrum of the sound around that is no speech.
In pink noise at 10 dB it more than doubles what PocketSphinx hears right; in quiet and in
wind it loses a little, so the sound as it is stays the first hearing.
"""

from __future__ import annotations

import math

import numpy as np

from voicelog.audio.resampling import RATE, Samples
from voicelog.recognition.quick_recognizer import Spectrum

__all__ = [
    "FFT_BINS",
    "FFT_LENGTH",
    "NOISY_DB",
    "level_above_noise_db",
    "mean_power",
    "power",
    "reduce_noise",
    "speech_band_above_noise_db",
]

FFT_LENGTH = 512
"""Samples in a frame, 32 ms."""
FFT_BINS = FFT_LENGTH // 2 + 1
NOISY_DB = 25.0
"""Speech that stands less over the noise (dB) is worth hearing cleaned of it as well."""
SPEECH_BAND_HZ = (300.0, 3400.0)
"""What telephones pass of speech (ITU-T G.712), and enough to understand it."""
_HOP = 128
_MEMORY = 0.96
"""Share of the last frame's estimate of the speech in this frame's."""
_LEAST_RATIO = 1e-2
"""Least ratio of speech to noise power that is supposed, -20 dB."""
_LEAST_GAIN = 0.1
"""No bin is turned down by more than 20 dB: full silence between tones rings."""
_TEN_MS = RATE // 100
_BAND = slice(
    math.ceil(SPEECH_BAND_HZ[0] * FFT_LENGTH / RATE),
    math.floor(SPEECH_BAND_HZ[1] * FFT_LENGTH / RATE) + 1,
)
"""Bins of the speech band."""
_QUIET, _SILENT = 1e-8, 1e-10
"""Mean square that is supposed of noise before any was heard, and the least of anything."""
_WINDOW = np.sqrt(np.hanning(FFT_LENGTH + 1)[:-1])


def power(frame: Samples) -> Spectrum:
    """The power of one frame of FFT_LENGTH samples (full scale 1) in each bin, shape (FFT_BINS,).

    |X(k)|^2 of the discrete Fourier transform under the root of a periodic Hann window, not
    normalised; bin k lies at k * RATE / FFT_LENGTH Hz. `mean_power` brings it back to samples.
    """
    return np.square(np.abs(np.fft.rfft(frame * _WINDOW)))


def mean_power(noise: Spectrum) -> float:
    """The mean square of the samples (full scale 1) whose spectrum this is, as `power` gives it.

    By Parseval's theorem: the sum over both sides of the spectrum, divided by N and by the sum
    of the squared window, N / 2.
    """
    both_sides = 2 * float(np.sum(noise)) - float(noise[0] + noise[-1])
    return both_sides / (FFT_LENGTH * FFT_LENGTH / 2)


def level_above_noise_db(sound: Samples, noise: Spectrum | None) -> float:
    """How far the loud frames of 10 ms (their 90th percentile) stand above the noise (dB)."""
    frames = sound[: len(sound) // _TEN_MS * _TEN_MS].reshape(-1, _TEN_MS).astype(np.float64)
    loud = float(np.percentile(np.mean(np.square(frames), axis=1), 90)) if len(frames) else 0.0
    floor = _QUIET if noise is None else mean_power(noise)
    return 10 * math.log10(max(loud, _SILENT) / max(floor, _SILENT))


def speech_band_above_noise_db(sound: Samples, noise: Spectrum | None) -> float:
    """How far the loud frames of 32 ms (their 90th percentile, one every 10 ms) stand above the
    noise in the speech band (dB); infinite where no noise was heard yet.

    Wind and hum lie below that band, so it tells how much of the speech can still be understood.
    noise: as `power` gives it.
    """
    if noise is None:
        return math.inf
    padded = np.pad(sound, (0, max(0, FFT_LENGTH - len(sound))))
    frames = np.lib.stride_tricks.sliding_window_view(padded, FFT_LENGTH)[::_TEN_MS]
    powers = np.square(np.abs(np.fft.rfft(frames * _WINDOW, axis=1)))[:, _BAND].sum(axis=1)
    least = _SILENT * FFT_LENGTH * FFT_LENGTH / 2
    loud = max(float(np.percentile(powers, 90)), least)
    return 10 * math.log10(loud / max(float(noise[_BAND].sum()), least))


def reduce_noise(sound: Samples, noise: Spectrum) -> Samples:
    """`sound` with noise of that spectrum turned down; as long as before.

    noise: as `power` gives it, shape (FFT_BINS,). In each bin of frame t, with g(t) the ratio of
    its power to that of the noise, the ratio x(t) of speech to noise is estimated from the frame
    before (Ephraim and Malah 1984), and what is heard multiplied by Wiener's gain:

        x(t) = a * G(t-1)^2 * g(t-1) + (1 - a) * max(g(t) - 1, 0),    a = 0.96, x at least -20 dB
        G(t) = x(t) / (1 + x(t)),                                     at least -20 dB

    Frames of 32 ms every 8 ms, under the root of a Hann window before and after, are added up.
    """
    padded = np.concatenate((np.zeros(FFT_LENGTH), sound, np.zeros(2 * FFT_LENGTH)))
    frames = np.lib.stride_tricks.sliding_window_view(padded, FFT_LENGTH)[::_HOP] * _WINDOW
    spectra = np.fft.rfft(frames, axis=1)
    ratios = np.square(np.abs(spectra)) / np.maximum(noise, 1e-12)
    speech = np.zeros(FFT_BINS)
    for spectrum, ratio in zip(spectra, ratios, strict=True):
        likely = _MEMORY * speech + (1 - _MEMORY) * np.maximum(ratio - 1, 0)
        likely = np.maximum(likely, _LEAST_RATIO)
        gain = np.maximum(likely / (1 + likely), _LEAST_GAIN)
        speech = gain * gain * ratio
        spectrum *= gain
    parts = np.fft.irfft(spectra, axis=1) * _WINDOW
    whole = np.zeros(len(padded))
    for place, part in enumerate(parts):
        whole[place * _HOP : place * _HOP + FFT_LENGTH] += part
    # Squared windows of which each starts a quarter after the last add up to two.
    return np.asarray(whole[FFT_LENGTH : FFT_LENGTH + len(sound)] / 2, np.float32)
