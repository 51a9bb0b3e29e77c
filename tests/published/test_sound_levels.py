"""Sound levels against published figures; the source stands beside each check.

Sources:
- [dBFS] "dBFS", en.wikipedia.org/wiki/dBFS: half of the maximum level is -6 dBFS; by the
  mathematical definition (dBov, ITU-T G.100.1: full-scale square wave 0) a full-scale
  sine has an RMS level of -3.01; AES17-1998 and IEC 61606 put that sine at 0 instead.
- [half] a sine of 50% of full scale: 20 log10 0.50 = -6.0 dB, a sound editor's manual
  (manuzoid.com, "Digital levels").
- [quantised] SNR of a full-scale sine in n bits is 6.02 n + 1.76 dB: textbook formula
  (W. R. Bennett, 1948), from memory.

997 Hz is the usual test tone: it shares no factor with the sample rate.
"""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from voicelog.audio.level_meter import LevelMeter
from voicelog.audio.resampling import RATE
from voicelog.model import SoundLevel


def _sine(peak: float, hz: float = 997.0) -> NDArray[np.float64]:
    return peak * np.sin(2 * np.pi * hz * np.arange(10 * RATE) / RATE)


def _measured(wave: NDArray[np.float64]) -> SoundLevel:
    meter = LevelMeter()
    meter.add(wave.astype(np.float32))
    return meter.result()


def test_full_scale_sine_has_peak_0_and_rms_minus_3_0103() -> None:  # [dBFS]
    figures = _measured(_sine(1.0))
    assert figures.peak_dbfs == pytest.approx(0.0, abs=1e-4)
    assert figures.rms_dbfs == pytest.approx(-3.0103, abs=5e-5)


def test_half_amplitude_is_6_0206_db_down() -> None:  # [dBFS], [half]
    figures = _measured(_sine(0.5))
    assert figures.peak_dbfs == pytest.approx(-6.0206, abs=1e-4)
    assert figures.rms_dbfs == pytest.approx(-3.0103 - 6.0206, abs=1e-4)


def test_full_scale_square_wave_has_rms_0() -> None:  # [dBFS], dBov
    figures = _measured(np.sign(_sine(1.0, 997.5) + 1e-12))
    assert figures.peak_dbfs == 0.0
    assert figures.rms_dbfs == pytest.approx(0.0, abs=1e-6)


def test_noise_of_16_bits_lies_98_db_below_a_full_scale_sine() -> None:  # [quantised]
    sine = _sine(1.0) * (1 - 2**-15)
    error = np.round(sine * 2**15) / 2**15 - sine
    signal, noise = _measured(sine).rms_dbfs, _measured(error).rms_dbfs
    assert signal is not None
    assert noise is not None
    assert signal - noise == pytest.approx(6.02 * 16 + 1.76, abs=0.1)
