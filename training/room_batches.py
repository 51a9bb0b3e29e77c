"""Rooms and noise for batches of utterances, new each time, made where JAX computes.

What Room of speech.py does with one utterance at a time, for many at once, with more of it: speed,
colour, echo, narrow links, and noise reduced as the program reduces it.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import jax
import jax.numpy as jnp
import numpy as np
from jax import Array
from numpy.typing import NDArray

from tests.bench.voices import RATE
from training import encoder_network as network
from training.packed_speech import KNOCKS, PackedSpeech, PackedUtterance

__all__ = ["Draws", "Rooms", "placed"]

QUIET = 0.25
"""Share that is heard without noise, but for a hum."""
ECHO = 4000
"""Samples of a room's echo."""
NARROW_HZ = (200.0, 3400.0)
MADE = ("pink", "wind", "babble", "barks", KNOCKS)
"""Beds that are no recordings."""


class Rooms(NamedTuple):
    """Where the utterances of a batch are heard, an array each with a row for each utterance.

    starts, lengths: of the utterance in the sound. speeds: how much faster it is said. before,
    after: samples of quiet around it. colours: dB at nine places from 0 to 8 kHz. echo: how loud,
    as a factor. decays_s: in which it falls by 60 dB. hums, noises: where they begin in the beds,
    and factors to the level of the speech. narrow: over a telephone. gains: factors.
    """

    starts: Array
    lengths: Array
    speeds: Array
    before: Array
    after: Array
    colours: Array
    echo: Array
    decays_s: Array
    hums: Array
    hum_factors: Array
    noises: Array
    noise_factors: Array
    narrow: Array
    gains: Array
    cleaned: Array


class Draws:
    """Draws batches of utterances, and rooms for them, by chance."""

    def __init__(self, speech: PackedSpeech, rng: np.random.Generator) -> None:
        self._rng, self._kinds = rng, list(speech.beds)
        self._bed_length = len(next(iter(speech.beds.values())))
        self._recorded = [kind for kind in self._kinds if kind not in MADE]

    def rooms(
        self, some: Sequence[PackedUtterance], plain: tuple[str, float] | None = None
    ) -> Rooms:
        """plain: every one in this noise at this many dB, and nothing else done to it."""
        rng, count = self._rng, len(some)
        kinds, ratios = zip(*(plain or self._noise() for _ in some), strict=True)
        ratios_db = np.array(ratios)
        beds = np.array([self._kinds.index(kind) for kind in kinds])
        drawn = {
            "starts": np.array([one.start for one in some]),
            "lengths": np.array([one.length for one in some]),
            "speeds": np.where(rng.random(count) < 0.5, rng.uniform(0.88, 1.14, count), 1.0),
            "before": (rng.uniform(0.1, 0.5, count) * RATE).astype(int),
            "after": (rng.uniform(0.1, 0.5, count) * RATE).astype(int),
            "colours": rng.normal(0, 4, (count, 9)) * (rng.random((count, 1)) < 0.4),
            "echo": 10 ** (rng.uniform(-20, -2, count) / 20) * (rng.random(count) < 0.35),
            "decays_s": rng.uniform(0.1, 0.5, count),
            "hums": self._places(np.full(count, self._kinds.index("pink"))),
            "hum_factors": 10 ** (-rng.uniform(30, 50, count) / 20),
            "noises": self._places(beds),
            "noise_factors": 10 ** (-ratios_db / 20),
            "narrow": rng.random(count) < 0.1,
            "gains": 10 ** (rng.uniform(-20, 4, count) / 20),
            "cleaned": (ratios_db < 25) & (rng.random() < 0.5),
        }
        if plain:
            ones = np.ones(count)
            drawn |= {"speeds": ones, "gains": ones, "colours": drawn["colours"] * 0}
            drawn |= {"echo": ones * 0, "narrow": ones < 0, "cleaned": ones < 0}
        return Rooms(**{name: jnp.asarray(value) for name, value in drawn.items()})

    def _places(self, beds: NDArray[np.integer]) -> NDArray[np.int64]:
        within = self._rng.integers(self._bed_length - network.SAMPLES, size=len(beds))
        return beds * self._bed_length + within

    def _noise(self) -> tuple[str, float]:
        """A kind of noise, and how far the speech stands above it (dB)."""
        rng = self._rng
        if rng.random() < QUIET:
            return "pink", np.inf
        kind = rng.random()
        if kind < 0.3:
            return "pink", rng.uniform(0, 25)
        if kind < 0.42:
            return "wind", rng.uniform(-3, 20)
        if kind < 0.57:
            return "babble", rng.uniform(3, 25)
        if kind < 0.62:
            return "barks", rng.uniform(0, 25)
        if kind < 0.7:
            return KNOCKS, rng.uniform(-3, 20)
        return self._recorded[int(rng.integers(len(self._recorded)))], rng.uniform(0, 25)


def placed(sounds: tuple[Array, Array], rooms: Rooms, key: Array) -> tuple[Array, Array, Array]:
    """A batch in quiet and in its rooms, shape (batch, SAMPLES), and how long each is (samples).

    sounds: all utterances (int16), and all beds of noise, each after the other.
    """
    sound, beds = sounds
    time_at = jnp.arange(network.SAMPLES)
    said = jnp.floor(rooms.lengths / rooms.speeds).astype(jnp.int32)
    said = jnp.minimum(said, network.SAMPLES - rooms.before - 800)

    def utterance(start: Array, count: Array, speed: Array, before: Array) -> Array:
        place = (time_at - before) * speed
        whole = jnp.floor(place).astype(jnp.int32)
        part = place - whole
        left = sound[start + jnp.maximum(whole, 0)].astype(jnp.float32) / 32768
        right = sound[start + jnp.maximum(whole + 1, 0)].astype(jnp.float32) / 32768
        within = (time_at >= before) & (time_at < before + count)
        return (left * (1 - part) + right * part) * within

    quiet = jax.vmap(utterance)(rooms.starts, said, rooms.speeds, rooms.before)
    spectrum = jnp.fft.rfft(quiet)
    bins = jnp.linspace(0, 8, spectrum.shape[1])
    colour_db = jax.vmap(lambda one: jnp.interp(bins, jnp.arange(9.0), one))(rooms.colours)
    fall = jnp.exp(-6.9 * jnp.arange(ECHO) / RATE / rooms.decays_s[:, None])
    echo = jax.random.normal(key, (len(quiet), ECHO)) * fall
    echo *= rooms.echo[:, None] / jnp.sqrt(jnp.square(echo).sum(1, keepdims=True))
    spectrum *= 10 ** (colour_db / 20) * jnp.fft.rfft(echo.at[:, 0].set(1.0), network.SAMPLES)
    heard = jnp.fft.irfft(spectrum, network.SAMPLES)

    ends = rooms.before + said
    spoken = (time_at >= rooms.before[:, None]) & (time_at < ends[:, None])
    level = jnp.sqrt(jnp.square(heard * spoken).sum(1) / said)

    def bed(start: Array) -> Array:
        return jax.lax.dynamic_slice(beds, (start,), (network.SAMPLES,))

    noise = jax.vmap(bed)(rooms.hums) * (level * rooms.hum_factors)[:, None]
    noise += jax.vmap(bed)(rooms.noises) * (level * rooms.noise_factors)[:, None]
    hertz = jnp.linspace(0, RATE / 2, spectrum.shape[1])
    passed = jnp.where(hertz > NARROW_HZ[1], 0.003, jnp.where(hertz < NARROW_HZ[0], 0.1, 1.0))

    def through(one: Array) -> Array:
        narrow = jnp.fft.irfft(jnp.fft.rfft(one) * passed, network.SAMPLES)
        return jnp.where(rooms.narrow[:, None], narrow, one) * rooms.gains[:, None]

    noise, noisy = through(noise), through(heard + noise)

    def cleaned() -> Array:
        fewer = network.reduced(noisy, network.frame_power(noise))
        return jnp.where(rooms.cleaned[:, None], fewer, noisy)

    noisy = jnp.clip(jax.lax.cond(rooms.cleaned.any(), cleaned, lambda: noisy), -1, 1)
    length = jnp.minimum(ends + rooms.after, network.SAMPLES)
    within = time_at < length[:, None]
    return quiet, noisy * within, length
