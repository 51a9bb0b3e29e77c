"""Train the layer that reads phones off the encoder of a Whisper model of the user's own.

It learns from frames that were kept (encoder_frames.py), so the encoder stays as it is. The layer
that ships is trained by encoder_changes.py.
"""

from __future__ import annotations

import time
from collections.abc import Iterator, Sequence

import jax
import jax.numpy as jnp
import numpy as np
import optax
from jax import Array
from numpy.typing import NDArray

from training.encoded_speech import EncodedUtterance, encoded_utterances
from training.layer_files import layer_file
from voicelog.recognition.phone_posteriors import PHONE_INDEX

__all__ = ["EPOCHS", "SEED", "train"]

NARROW, WIDE, BESIDE = 128, 384, 5
"""Width of the first dense layer and of the second, and frames on either side that it sees."""
BATCH, EPOCHS, LEARNING_RATE = 64, 12, 3e-3
SEED = 0


def train(folder: str) -> None:
    """Fit a layer by CTC, and keep it (layer_file, "all") unless it is there.

    folder: where what its model makes of the speech is kept, which says how wide it is. Prints, for
    each epoch, the mean loss (nats an utterance).
    """
    if layer_file("all", folder).exists():
        return
    known = list(encoded_utterances(folder))
    rng = np.random.default_rng(SEED)
    some = np.concatenate([one.frames for one in known[::20]]).astype(np.float32)
    mean, spread = some.mean(axis=0), some.std(axis=0) + 1e-5
    count = 1 + len(PHONE_INDEX)

    def begin(*shape: int) -> Array:
        return jnp.asarray(rng.normal(0, shape[0] ** -0.5, shape), jnp.float32)

    weights = {
        "narrow": begin(len(mean), NARROW),
        "wide": begin(NARROW * (2 * BESIDE + 1), WIDE),
        "wide bias": jnp.zeros(WIDE),
        "out": begin(WIDE, count),
        "out bias": jnp.zeros(count),
    }

    def scores(known: dict[str, Array], frames: Array, beyond: Array, key: Array | None) -> Array:
        scaled = (frames.astype(jnp.float32) - mean) / spread
        keys = jax.random.split(key, 3) if key is not None else None
        if keys is not None:
            scaled += 0.2 * jax.random.normal(keys[0], scaled.shape)
            scaled *= jax.random.bernoulli(keys[1], 0.9, scaled.shape) / 0.9
        narrow = (scaled @ known["narrow"]) * (1 - beyond)[..., None]
        beside = jnp.pad(narrow, ((0, 0), (BESIDE, BESIDE), (0, 0)))
        steps = range(2 * BESIDE + 1)
        window = jnp.concatenate([beside[:, s : s + frames.shape[1]] for s in steps], axis=-1)
        inner = jax.nn.gelu(window @ known["wide"] + known["wide bias"])
        if keys is not None:
            inner *= jax.random.bernoulli(keys[2], 0.8, inner.shape) / 0.8
        return jnp.asarray(inner @ known["out"] + known["out bias"])

    def loss(known: dict[str, Array], batch: Sequence[Array], key: Array) -> Array:
        frames, beyond, phones, no_phone = batch
        each = optax.ctc_loss(scores(known, frames, beyond, key), beyond, phones, no_phone)
        return jnp.mean(jnp.asarray(each))

    steps = EPOCHS * -(-len(known) // BATCH)
    rate = optax.warmup_cosine_decay_schedule(
        1e-4, LEARNING_RATE, min(200, steps // 4), steps, 1e-5
    )
    descent = optax.adamw(rate, weight_decay=1e-2)
    state = descent.init(weights)

    @jax.jit
    def step(known, state, batch, key):  # type: ignore[no-untyped-def]
        value, slope = jax.value_and_grad(loss)(known, batch, key)
        change, state = descent.update(slope, state, known)
        return optax.apply_updates(known, change), state, value

    key, began = jax.random.PRNGKey(SEED), time.monotonic()
    for epoch in range(EPOCHS):
        losses = []
        for batch in _batches(known, rng):
            key, now = jax.random.split(key)
            weights, state, value = step(weights, state, batch, now)
            losses.append(float(value))
        passed = time.monotonic() - began
        print(f"{epoch}: {np.mean(losses):.2f} {passed:.0f} s", flush=True)
    plain = {name: np.asarray(value) for name, value in weights.items()}
    plain["narrow bias"] = -(mean / spread) @ plain["narrow"]
    plain["narrow"] = plain["narrow"] / spread[:, None]
    np.savez_compressed(
        layer_file("all", folder),
        allow_pickle=False,
        **{name: value.astype(np.float16) for name, value in plain.items()},
    )


def _batches(
    items: Sequence[EncodedUtterance], rng: np.random.Generator
) -> Iterator[tuple[NDArray[np.generic], ...]]:
    """Frames, which of them are padding, phones, which of them are; alike long ones together."""
    lengths = np.array([len(one.frames) for one in items], np.float64)
    order = np.argsort(lengths + (rng.uniform(0, 20, len(items))))
    groups = [order[at : at + BATCH] for at in range(0, len(order), BATCH)]
    rng.shuffle(groups)
    for group in groups:
        some = [items[place] for place in group]
        longest = -(-max(len(one.frames) for one in some) // 60) * 60
        most = -(-max(1, *(len(one.phones) for one in some)) // 16) * 16
        frames = np.zeros((BATCH, longest, some[0].frames.shape[1]), np.float16)
        beyond = np.ones((BATCH, longest), np.float32)
        phones = np.zeros((BATCH, most), np.int32)
        no_phone = np.ones((BATCH, most), np.float32)
        for row, one in enumerate(some):
            frames[row, : len(one.frames)] = one.frames
            beyond[row, : len(one.frames)] = 0
            phones[row, : len(one.phones)] = one.phones
            no_phone[row, : len(one.phones)] = 0
        yield frames, beyond, phones, no_phone
