"""Noises of the field, made: as a microphone outdoors hears them, near a voice or over it.

    gusts       wind on a bare microphone: turbulence, gusts, and full scale passed in the strongest
    jacket      a small microphone under a jacket: the voice muffled, cloth that rubs while walking
    breath      somebody out of breath, close to the microphone
    overbark    one or two barks over seven notes in ten
    overpips    a whistle's pips over seven notes in ten, or just before them
    hood        rain on a hood or an umbrella, close to the microphone
    quad        a quad bike: one cylinder, idling and driving

None is a recording, since none was at hand: what they are made by is told beside each, common
practice where no source is named. No layer, weight or threshold was made with any of them; the
program's filter against rumble was chosen in `gusts` of the tuning half.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, lfilter, sosfilt

from tests.bench.noise import one_bark, slow_curve, unit_rms
from tests.bench.voices import RATE, Sound

__all__ = ["FIELD", "FieldNoise"]

Spans = Sequence[tuple[float, float]]
"""Start and end (s) of each stretch with speech."""

WIND_M_S, GUSTINESS, GUST_HZ = 6.0, 0.35, 0.4
"""Mean wind, standard deviation over mean, and how often it turns; a fresh breeze in the open."""
MICROPHONE_HZ = 80.0
"""Below this small microphones hear less (first order)."""
CLIPPED_SHARE = 0.003
"""Samples beyond full scale in gusts."""
OVER = 0.7
"""Share of the notes that something is laid over."""
STEP_HZ = 1.9
"""Steps a second of a person who walks."""
PIPS_HZ = (3_200.0, 5_400.0)


class FieldNoise(NamedTuple):
    """make: so many samples, RMS 1 over the sounding parts, by chance and the spans with speech.
    voice: what becomes of the voice. received: what the microphone makes of the sum."""

    make: Callable[[int, np.random.Generator, Spans], Sound]
    voice: Callable[[Sound], Sound] = lambda sound: sound
    received: Callable[[Sound], Sound] = lambda sound: sound


def gusts(count: int, rng: np.random.Generator, spans: Spans) -> Sound:
    """Turbulence at a microphone, in wind of speed V that comes and goes.

    Third-octave levels fall by 23 dB a decade of frequency and rise by 63 dB a decade of V
    (Strasberg, Dimensional analysis of windscreen noise, J. Acoust. Soc. Am. 83, 1988; from
    memory): a power density of f^-3.3, and an amplitude of V^3.15.
    """
    spectrum = np.fft.rfft(rng.standard_normal(count))
    frequency = np.fft.rfftfreq(count, 1 / RATE)
    shape = np.maximum(frequency, 10.0) ** -1.65
    turbulence = np.fft.irfft(spectrum * shape, count)
    held = sosfilt(butter(1, MICROPHONE_HZ, "high", fs=RATE, output="sos"), turbulence)
    swing = (slow_curve(count, rng, GUST_HZ) + slow_curve(count, rng, 4 * GUST_HZ) / 3 - 2 / 3) * 3
    speed = np.maximum(WIND_M_S * (1 + GUSTINESS * swing), 0.5)
    return unit_rms(held * (speed / WIND_M_S) ** 3.15)


def overdriven(sound: Sound) -> Sound:
    """Louder, until CLIPPED_SHARE of the samples would pass full scale, and cut there."""
    full = float(np.quantile(np.abs(sound), 1 - CLIPPED_SHARE))
    return np.asarray(np.clip(sound / full, -1.0, 1.0), dtype=np.float32)


def rubbing(count: int, rng: np.random.Generator, spans: Spans) -> Sound:
    """Cloth over a microphone: strokes at each step, and now and then a longer one."""
    noise = rng.standard_normal(count)
    coarse = sosfilt(butter(2, (150, 900), "band", fs=RATE, output="sos"), noise)
    fine = sosfilt(butter(2, (900, 5_000), "band", fs=RATE, output="sos"), noise)
    total = np.zeros(count)
    at = 0.0
    while (start := round(at * RATE)) < count:
        long = rng.random() < 0.08
        length = min(
            round(rng.uniform(*((0.4, 1.1) if long else (0.05, 0.18))) * RATE), count - start
        )
        envelope = np.hanning(length + 2)[1:-1] * rng.uniform(0.3, 1.0) * (1.5 if long else 1.0)
        part = slice(start, start + length)
        total[part] += envelope * (coarse[part] + rng.uniform(0.2, 0.7) * fine[part])
        at += rng.uniform(0.85, 1.15) / STEP_HZ
    return unit_rms(total + 0.01 * coarse)


def muffled(sound: Sound) -> Sound:
    """A voice through a jacket, from the chest: duller above 1.2 kHz, with more from 500 to 900 Hz.

    The chest lacks what the mouth sends forward, cloth takes more the higher it is; how much is a
    guess (common practice, no source).
    """
    dull = sosfilt(butter(1, 1_200, fs=RATE, output="sos"), sound)
    duller = sosfilt(butter(1, 3_500, fs=RATE, output="sos"), dull)
    chest = sosfilt(butter(1, (500, 900), "band", fs=RATE, output="sos"), sound)
    return np.asarray(duller + 0.4 * chest, dtype=np.float32)


def breath(count: int, rng: np.random.Generator, spans: Spans) -> Sound:
    """In and out forty times a minute, the way out with more below 1 kHz."""
    noise = rng.standard_normal(count)
    inward = sosfilt(butter(2, (700, 5_000), "band", fs=RATE, output="sos"), noise)
    outward = sosfilt(butter(2, (150, 2_000), "band", fs=RATE, output="sos"), noise)
    total = np.zeros(count)
    at = rng.uniform(0, 1)
    while (start := round(at * RATE)) < count:
        for source, share in ((inward, 0.4), (outward, 0.45)):
            length = min(round(rng.uniform(0.8, 1.2) * share * 1.5 * RATE), count - start)
            part = slice(start, start + length)
            total[part] += source[part] * np.hanning(length + 2)[1:-1] * rng.uniform(0.4, 1.0)
            start += length
            if start >= count:
                break
        at += rng.uniform(1.3, 1.8)
    return unit_rms(total)


def over_barks(count: int, rng: np.random.Generator, spans: Spans) -> Sound:
    """Barks that begin anywhere in a note."""
    return _over(count, rng, spans, 0.0, lambda: one_bark(rng, rng.uniform(350, 700)), (1, 2), 0.32)


def over_pips(count: int, rng: np.random.Generator, spans: Spans) -> Sound:
    """Two to four pips, of one whistle, from half a second before a note on."""
    hertz = rng.uniform(*PIPS_HZ)
    return _over(count, rng, spans, 0.5, lambda: _pip(rng, hertz), (2, 4), 0.22)


def _over(
    count: int,
    rng: np.random.Generator,
    spans: Spans,
    before_s: float,
    one: Callable[[], NDArray[np.float64]],
    times: tuple[int, int],
    apart_s: float,
) -> Sound:
    total = np.zeros(count)
    for start_s, end_s in spans:
        if rng.random() < OVER:
            at = rng.uniform(max(0.0, start_s - before_s), end_s)
            for _ in range(int(rng.integers(times[0], times[1] + 1))):
                start = round(at * RATE)
                burst = one()[: max(0, count - start)]
                total[start : start + len(burst)] += burst
                at += apart_s * rng.uniform(0.9, 1.3)
    return unit_rms(total) if total.any() else total.astype(np.float32)


def _pip(rng: np.random.Generator, hertz: float) -> NDArray[np.float64]:
    """A pip of 0.1 to 0.17 s: a tone with its octave and some air, the pitch settling upwards."""
    time = np.arange(round(rng.uniform(0.10, 0.17) * RATE)) / RATE
    phase = 2 * np.pi * np.cumsum(hertz * (1 - 0.08 * np.exp(-time / 0.015))) / RATE
    air = lfilter([1, -0.95], [1], rng.standard_normal(len(time)))
    octave = 0.15 * np.sin(2 * phase) if 2 * hertz < RATE / 2 else 0.0
    envelope = np.minimum(time / 0.01, 1) * np.minimum((time[-1] - time) / 0.02, 1)
    return np.asarray((np.sin(phase) + octave + 0.05 * air) * envelope)


def rain_on_hood(count: int, rng: np.random.Generator, spans: Spans) -> Sound:
    """Forty drops a second, each a short knock of cloth, over a fainter hiss of all the others."""
    total = np.zeros(count)
    for at in np.flatnonzero(rng.random(count) < 40 / RATE).tolist():
        time = np.arange(min(round(0.03 * RATE), count - at)) / RATE
        knock = np.sin(2 * np.pi * rng.uniform(250, 1_400) * time) * np.exp(-time / 0.006)
        tick = rng.standard_normal(len(time)) * np.exp(-time / 0.0015)
        total[at : at + len(time)] += (knock + 0.7 * tick) * rng.lognormal(0, 0.7)
    hiss = sosfilt(
        butter(1, (800, 6_000), "band", fs=RATE, output="sos"), rng.standard_normal(count)
    )
    return unit_rms(total / total.std() + 0.5 * hiss / hiss.std())


def quad_bike(count: int, rng: np.random.Generator, spans: Spans) -> Sound:
    """One cylinder of four strokes: a blow every second turn, at 1,500 to 4,500 turns a minute,
    through an exhaust, with the rattle that each blow makes."""
    turns = 1_500 + 3_000 * slow_curve(count, rng, 0.15) ** 2 + 60 * slow_curve(count, rng, 5.0)
    phase = np.cumsum(turns / 120) / RATE
    blows = np.zeros(count)
    fired = np.flatnonzero(np.diff(np.floor(phase), prepend=0.0) > 0)
    blows[fired] = rng.uniform(0.8, 1.2, len(fired))
    exhaust = lfilter([1], [1, -0.995], blows) - lfilter([1], [1, -0.97], blows)
    ring = sosfilt(butter(2, (90, 400), "band", fs=RATE, output="sos"), blows)
    beat = lfilter([1], [1, -0.997], blows)
    rattle = sosfilt(
        butter(1, (600, 3_500), "band", fs=RATE, output="sos"), rng.standard_normal(count)
    )
    body = exhaust / exhaust.std() + 1.2 * ring / ring.std()
    return unit_rms(body + 0.35 * rattle / rattle.std() * beat / beat.std())


FIELD = {
    "gusts": FieldNoise(gusts, received=overdriven),
    "jacket": FieldNoise(rubbing, voice=muffled),
    "breath": FieldNoise(breath),
    "overbark": FieldNoise(over_barks),
    "overpips": FieldNoise(over_pips),
    "hood": FieldNoise(rain_on_hood),
    "quad": FieldNoise(quad_bike),
}
