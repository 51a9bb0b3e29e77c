"""Train the layer that reads phones off the encoder of a Whisper model of the user's own.

It learns from frames that were kept (encoder_frames.py), so the encoder stays as it is. The layer
that ships is trained by packaged_layer.py.
"""

from __future__ import annotations

import time
from collections.abc import Iterator, Sequence

import jax
import jax.numpy as jnp
import numpy as np
import optax
from numpy.typing import NDArray

from training.encoded_speech import EncodedUtterance, encoded_utterances
from training.layer_files import layer_file
from training.layer_network import archived, begun, blurred, ctc_losses, posteriors

__all__ = ["EPOCHS", "SEED", "train"]

BATCH, EPOCHS, LEARNING_RATE = 64, 12, 2e-3
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
    weights = begun(rng, len(mean))

    def loss(weights, batch, key):  # type: ignore[no-untyped-def]
        frames, counts, phones, no_phone = batch
        keys = jax.random.split(key)
        seen = blurred((frames.astype(jnp.float32) - mean) / spread, counts, keys[0])
        found = posteriors(weights, seen, counts, keys[1])
        return ctc_losses(found, counts, phones, no_phone).mean()

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
    np.savez_compressed(
        layer_file("all", folder), allow_pickle=False, **archived(weights, mean, spread)
    )


def _batches(
    items: Sequence[EncodedUtterance], rng: np.random.Generator
) -> Iterator[tuple[NDArray[np.generic], ...]]:
    """Frames, how many of them are no padding, phones, which of them are padding; alike long ones
    together."""
    lengths = np.array([len(one.frames) for one in items], np.float64)
    order = np.argsort(lengths + (rng.uniform(0, 20, len(items))))
    groups = [order[at : at + BATCH] for at in range(0, len(order), BATCH)]
    rng.shuffle(groups)
    for group in groups:
        some = [items[place] for place in group]
        longest = -(-max(len(one.frames) for one in some) // 60) * 60
        most = -(-max(1, *(len(one.phones) for one in some)) // 16) * 16
        frames = np.zeros((BATCH, longest, some[0].frames.shape[1]), np.float16)
        counts = np.zeros(BATCH, np.int32)
        phones = np.zeros((BATCH, most), np.int32)
        no_phone = np.ones((BATCH, most), np.float32)
        for row, one in enumerate(some):
            frames[row, : len(one.frames)] = one.frames
            counts[row] = len(one.frames)
            phones[row, : len(one.phones)] = one.phones
            no_phone[row, : len(one.phones)] = 0
        yield frames, counts, phones, no_phone
