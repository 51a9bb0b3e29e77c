"""Train the acoustic layer over the packaged Whisper model's encoder, which stays as it is.

The layer learns phones by CTC, of utterances that each time are heard in a room and a noise of
their own: 5,500 batches of 64. What it learns through is in layer_network.py.

Runs on a GPU where JAX has one; there a layer takes minutes.
"""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence

import jax
import jax.numpy as jnp
import numpy as np
import optax
from jax import Array
from numpy.typing import NDArray

from training import encoder_network as network
from training.layer_files import PACKAGED, layer_file, left_out
from training.layer_network import Weights, archived, begun, blurred, ctc_losses, posteriors
from training.packed_speech import PackedSpeech, PackedUtterance, packed_speech
from training.room_batches import Draws, placed

__all__ = ["SEED", "train_layer"]

BATCH, STEPS = 64, 5500
SHARES = {"spoken": 0.4, "people": 0.25, "lines": 0.35}
"""Of each batch."""
RATE, WARM_STEPS, WEIGHT_DECAY, LONGEST_SLOPE = 2e-3, 200, 1e-2, 20.0
MOST_PHONES = 160
JUDGED = (("pink", np.inf), ("pink", 10.0), ("babble", 12.0))
SEED = 0


def train_layer(name: str, share: float = 1.0) -> None:
    """Train one, and keep it (layer_file, in PACKAGED) unless it is there.

    name: one of LAYERS (layer_files.py). share: of the batches (0 to 1). Prints the loss (nats an
    utterance), and the share of phones misheard (edits over phones, the likeliest of each frame) of
    the speakers left out, or of some that were heard.
    """
    path = layer_file(name, PACKAGED)
    if path.exists():
        return
    trainer = _Trainer(packed_speech(), left_out(name), name)
    path.parent.mkdir(parents=True, exist_ok=True)
    part = path.with_suffix(".part.npz")
    np.savez_compressed(part, allow_pickle=False, **trainer.trained(max(1, round(STEPS * share))))
    part.replace(path)


class _Trainer:
    """One layer's training, on speech without some speakers."""

    def __init__(self, speech: PackedSpeech, without: frozenset[str], name: str) -> None:
        self._name, self._rng = name, np.random.default_rng(SEED)
        self._key = jax.random.PRNGKey(SEED)
        known = [one for one in speech.utterances if not one.people & without]
        others = [one for one in speech.utterances if one.people and one.people <= without]
        self._learnt = {kind: [one for one in known if one.kind == kind] for kind in SHARES}
        judged = others or known
        self._judged = [judged[at] for at in self._rng.permutation(len(judged))[: 3 * BATCH]]
        self._draws = Draws(speech, self._rng)
        beds = np.concatenate([*speech.beds.values()])
        self._sounds = jnp.asarray(speech.sound), jnp.asarray(beds)
        self._mel = jnp.asarray(speech.model["mel"], jnp.float32)
        self._encoder = network.loaded(
            {name: array for name, array in speech.model.items() if "/" in name}
        )
        self._hold_against_program(speech.model)

    def _hold_against_program(self, model: Mapping[str, NDArray[np.generic]]) -> None:
        """Stop where this encoder does not tell what the program's does."""
        segment, wanted = model["segment"], model["segment_encoded"].astype(np.float32)
        sound = np.zeros((1, network.SAMPLES), np.float32)
        sound[0, : len(segment)] = segment
        found, counts = self._encoded(jnp.asarray(sound), jnp.asarray([len(segment)]))
        alike = np.corrcoef(np.asarray(found)[0, : int(counts[0])].ravel(), wanted.ravel())[0, 1]
        print(f"the encoder's output and the program's: correlation {alike:.4f}", flush=True)
        assert alike > 0.98, "this is another encoder than the program's"

    def _encoded(self, sound: Array, length: Array) -> tuple[Array, Array]:
        mel_features, counts = network.features(sound, length, self._mel)
        return network.encode(self._encoder, mel_features), counts

    def trained(self, steps: int) -> dict[str, NDArray[np.float16]]:
        """A layer after so many batches, as an archive holds it."""
        some = jnp.concatenate([self._frames(self._batch()) for _ in range(2)])
        mean, spread = some.mean(0), some.std(0) + 1e-5
        weights = begun(self._rng, len(mean))
        descent = _descent(steps)
        state = descent.init(weights)

        def loss(weights, sounds, rooms, phones, no_phone, key):  # type: ignore[no-untyped-def]
            keys = jax.random.split(key, 3)
            _, noisy, length = placed(sounds, rooms, keys[0])
            encoded, counts = self._encoded(noisy, length)
            frames = blurred((encoded - mean) / spread, counts, keys[1])
            found = posteriors(weights, frames, counts, keys[2])
            return ctc_losses(found, counts, phones, no_phone).mean()

        @jax.jit
        def step(weights, state, sounds, rooms, phones, no_phone, key):  # type: ignore[no-untyped-def]
            value, slope = jax.value_and_grad(loss)(weights, sounds, rooms, phones, no_phone, key)
            change, state = descent.update(slope, state, weights)
            return optax.apply_updates(weights, change), state, value

        began, losses = time.monotonic(), []
        for number in range(1, steps + 1):
            batch = self._batch()
            said = _padded_phones(batch)
            weights, state, value = step(
                weights, state, self._sounds, self._draws.rooms(batch), *said, self._next_key()
            )
            losses.append(value)
            if number % max(1, steps // 6) == 0:
                passed = time.monotonic() - began
                print(f"{self._name} {number}: {np.mean(losses):.2f}, {passed:.0f} s", flush=True)
                losses.clear()
        self._judge(weights, mean, spread)
        return archived(weights, mean, spread)

    def _judge(self, weights: Weights, mean: Array, spread: Array) -> None:
        @jax.jit
        def best(weights, sounds, rooms, key):  # type: ignore[no-untyped-def]
            _, noisy, length = placed(sounds, rooms, key)
            encoded, counts = self._encoded(noisy, length)
            return posteriors(weights, (encoded - mean) / spread, counts).argmax(-1), counts

        shares = []
        for noise in JUDGED:
            wrong = total = 0
            for at in range(0, len(self._judged), BATCH):
                some = self._judged[at : at + BATCH]
                rooms = self._draws.rooms(some, noise)
                found, counts = best(weights, self._sounds, rooms, self._next_key())
                for one, row, count in zip(
                    some, np.asarray(found), np.asarray(counts), strict=True
                ):
                    wrong += _edits(row[: int(count)], one.phones)
                    total += len(one.phones)
            shares.append(f"{wrong / total:.3f}")
        conditions = ", ".join(f"{kind} {ratio_db:g} dB" for kind, ratio_db in JUDGED)
        print(f"{self._name} misheard in {conditions}: {shares}", flush=True)

    def _batch(self) -> list[PackedUtterance]:
        whole = sum(SHARES[kind] for kind, some in self._learnt.items() if some)
        return [
            some[place]
            for kind, some in self._learnt.items()
            if some
            for place in self._rng.integers(len(some), size=round(BATCH * SHARES[kind] / whole))
        ]

    def _frames(self, some: Sequence[PackedUtterance]) -> Array:
        """The frames of a batch in its rooms, those that are no padding, shape (frames, width)."""

        @jax.jit
        def heard(sounds, rooms, key):  # type: ignore[no-untyped-def]
            _, noisy, length = placed(sounds, rooms, key)
            return self._encoded(noisy, length)

        encoded, counts = heard(self._sounds, self._draws.rooms(some), self._next_key())
        return encoded[jnp.arange(encoded.shape[1]) < counts[:, None]]

    def _next_key(self) -> Array:
        self._key, now = jax.random.split(self._key)
        return now


def _descent(steps: int) -> optax.GradientTransformation:
    warm = min(WARM_STEPS, steps // 4 + 1)
    pace = optax.warmup_cosine_decay_schedule(0.0, RATE, warm, steps + 1, 0.01 * RATE)
    return optax.chain(
        optax.clip_by_global_norm(LONGEST_SLOPE),
        optax.adamw(pace, b2=0.98, weight_decay=WEIGHT_DECAY),
    )


def _padded_phones(some: Sequence[PackedUtterance]) -> tuple[Array, Array]:
    phones = np.zeros((len(some), MOST_PHONES), np.int32)
    no_phone = np.ones((len(some), MOST_PHONES), np.float32)
    for row, one in enumerate(some):
        said = one.phones[:MOST_PHONES]
        phones[row, : len(said)], no_phone[row, : len(said)] = said, 0
    return jnp.asarray(phones), jnp.asarray(no_phone)


def _edits(found: NDArray[np.integer], said: Sequence[int]) -> int:
    """Edits from the phones of the likeliest path to those that were said."""
    path = found[np.append(True, found[1:] != found[:-1])]
    row = list(range(len(said) + 1))
    for phone in path[path > 0]:
        before, row = row, [row[0] + 1]
        for place, wanted in enumerate(said, start=1):
            row.append(min(before[place] + 1, row[-1] + 1, before[place - 1] + (phone != wanted)))
    return row[-1]
