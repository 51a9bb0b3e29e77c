"""Sound and files of sound for the tests, made on the spot: tones, noise, every format."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import av
import numpy as np
import soundfile as sf
from numpy.typing import NDArray

Sound = NDArray[np.float32]


def tone(hz: float, seconds: float, rate: int = 16_000, peak: float = 0.5) -> Sound:
    """A sine, shape (n,)."""
    return (peak * np.sin(2 * np.pi * hz * np.arange(round(seconds * rate)) / rate)).astype(
        np.float32
    )


def noise(seconds: float, rms: float, seed: int = 1, rate: int = 16_000) -> Sound:
    """White noise, shape (n,)."""
    rng = np.random.default_rng(seed)
    return (rms * rng.standard_normal(round(seconds * rate))).astype(np.float32)


def encode(
    path: Path,
    sound: Sound,
    rate: int,
    codec: str,
    tags: dict[str, str] | None = None,
    options: dict[str, str] | None = None,
) -> Path:
    """Write `sound`, shape (n,) or (n, channels), through FFmpeg's `codec`."""
    frames = sound.reshape(len(sound), -1)
    layout = {1: "mono", 2: "stereo", 6: "5.1"}[frames.shape[1]]
    with av.open(str(path), "w", options=options or {}) as container:
        container.metadata.update(tags or {})
        stream: Any = container.add_stream(codec, rate=rate, layout=layout)
        whole = av.AudioFrame.from_ndarray(
            np.ascontiguousarray(frames.T), format="fltp", layout=layout
        )
        whole.sample_rate, whole.pts = rate, 0
        fit = av.AudioResampler(stream.codec_context.format, layout, rate)
        for frame in [*fit.resample(whole), *fit.resample(None)]:
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return path


def write(path: Path, sound: Sound, rate: int = 16_000, subtype: str = "PCM_16") -> Path:
    """Write `sound`, shape (n,) or (n, channels), through libsndfile; format by suffix."""
    sf.write(path, sound, rate, subtype=subtype)
    return path


def loudest_hz(sound: Sound, rate: int = 16_000) -> float:
    """Frequency of the strongest line, Hz."""
    spectrum = np.abs(np.fft.rfft(sound * np.hanning(len(sound))))
    return float(np.argmax(spectrum)) * rate / len(sound)


def rms_db(sound: Sound) -> float:
    """RMS, dB re full scale (a full-scale sine: -3.01)."""
    return float(10 * np.log10(np.mean(np.square(sound, dtype=np.float64))))
