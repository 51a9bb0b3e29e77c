"""The acoustic layer of phone_posteriors.py as JAX computes it, and what it learns through.

So that it does not come to rest on single numbers, frames are blurred in training: noise is added
to every number, a tenth of them are left out, and so are two short spans of frames (Park and
others, SpecAugment, arXiv 1904.08779); a quarter of the inner numbers of each block is dropped.
"""

from __future__ import annotations

import jax
import jax.numpy as jnp
import numpy as np
import optax
from jax import Array
from numpy.typing import NDArray

from voicelog.recognition.phone_posteriors import BESIDE, PHONE_INDEX

__all__ = ["Weights", "archived", "begun", "blurred", "ctc_losses", "posteriors"]

WIDTH, INNER, BLOCKS, STEPS_BESIDE = 256, 512, 3, 11
"""Numbers in a frame and within a block, how many blocks, and how many frames each sees."""
NOISE, LEFT_OUT, DROPPED = 0.2, 0.1, 0.25
"""Of the spread of the encoder's numbers; shares."""
SPANS, LONGEST_SPAN = 2, 12
"""Spans of frames that are left out of each utterance, of 0 to so many frames."""
NO_LOSS = 1e4
"""Nats: as much has an utterance with too few frames for its phones."""

Weights = dict[str, Array]


def begun(rng: np.random.Generator, width: int) -> Weights:
    """Weights to begin with, for frames of `width` numbers of mean 0 and spread 1."""

    def dense(rows: int, columns: int, factor: float = 1.0) -> NDArray[np.float64]:
        return rng.normal(0, factor * rows**-0.5, (rows, columns))

    count = 1 + len(PHONE_INDEX)
    known = {"begin": dense(width, WIDTH), "begin bias": np.zeros(WIDTH)}
    known |= {"end": dense(WIDTH, count), "end bias": np.zeros(count)}
    for block in _blocks():
        known |= {
            block + BESIDE: dense(STEPS_BESIDE, WIDTH),
            f"{block}/gain": np.ones(WIDTH),
            f"{block}/shift": np.zeros(WIDTH),
            f"{block}/up": dense(WIDTH, INNER),
            f"{block}/up bias": np.zeros(INNER),
            f"{block}/down": dense(INNER, WIDTH, 0.3),
            f"{block}/down bias": np.zeros(WIDTH),
        }
    return {name: jnp.asarray(value, jnp.float32) for name, value in known.items()}


def blurred(frames: Array, counts: Array, key: Array) -> Array:
    """Frames to learn from, shape (batch, frames, width); the first `counts` are no padding."""
    keys = jax.random.split(key, 2 + SPANS)
    frames += NOISE * jax.random.normal(keys[0], frames.shape)
    frames *= jax.random.bernoulli(keys[1], 1 - LEFT_OUT, frames.shape) / (1 - LEFT_OUT)
    place = jnp.arange(frames.shape[1])
    for one in keys[2:]:
        begin, length = jax.random.uniform(one, (2, len(frames), 1))
        begin *= counts[:, None]
        frames *= ~((place >= begin) & (place < begin + length * LONGEST_SPAN))[..., None]
    return frames


def posteriors(known: Weights, frames: Array, counts: Array, key: Array | None = None) -> Array:
    """Natural logarithms of the posteriors, shape (batch, frames, 1 + phones).

    frames: scaled to mean 0 and spread 1. counts: how many of each are no padding. key: in
    training, which of the inner numbers are dropped.
    """
    within = (jnp.arange(frames.shape[1]) < counts[:, None])[..., None]
    inner = (frames @ known["begin"] + known["begin bias"]) * within
    for number, block in enumerate(_blocks()):
        seen = (_normalised(inner) * known[f"{block}/gain"] + known[f"{block}/shift"]) * within
        seen = jnp.pad(seen, ((0, 0), (STEPS_BESIDE // 2,) * 2, (0, 0)))
        beside = known[block + BESIDE]
        steps = range(STEPS_BESIDE)
        seen = jnp.stack([seen[:, step : step + inner.shape[1]] * beside[step] for step in steps])
        seen = jax.nn.gelu(seen.sum(0) @ known[f"{block}/up"] + known[f"{block}/up bias"])
        if key is not None:
            kept = jax.random.bernoulli(jax.random.fold_in(key, number), 1 - DROPPED, seen.shape)
            seen *= kept / (1 - DROPPED)
        inner = (inner + seen @ known[f"{block}/down"] + known[f"{block}/down bias"]) * within
    return jax.nn.log_softmax(_normalised(inner) @ known["end"] + known["end bias"])


def ctc_losses(found: Array, counts: Array, phones: Array, no_phone: Array) -> Array:
    """The loss of CTC of each utterance (nats), 0 of those that have too few frames."""
    beyond = (jnp.arange(found.shape[1]) >= counts[:, None]).astype(jnp.float32)
    each = jnp.asarray(optax.ctc_loss(found, beyond, phones, no_phone))
    return jnp.where(each < NO_LOSS, each, 0.0)


def archived(known: Weights, mean: Array, spread: Array) -> dict[str, NDArray[np.float16]]:
    """Weights as an archive holds them; the scale of the frames goes into the first matrix."""
    plain = {name: np.asarray(value, np.float64) for name, value in known.items()}
    scale = np.asarray(spread, np.float64)[:, None]
    plain["begin bias"] = plain["begin bias"] - (np.asarray(mean) / scale[:, 0]) @ plain["begin"]
    plain["begin"] = plain["begin"] / scale
    return {name: value.astype(np.float16) for name, value in plain.items()}


def _blocks() -> list[str]:
    return [f"block {number}" for number in range(BLOCKS)]


def _normalised(inner: Array) -> Array:
    centred = inner - inner.mean(-1, keepdims=True)
    return centred * jax.lax.rsqrt(jnp.square(centred).mean(-1, keepdims=True) + 1e-5)
