"""Train the acoustic layer, and low-rank changes of Whisper's encoder together with it.

First a layer over the encoder as it is learns phones by CTC. It is then the *teacher*: it hears an
utterance in quiet, while the *student*, which begins as its copy with changes that change nothing
yet, hears the same in a room and in noise. In each frame the divergence of what the student tells
from what the teacher tells counts once (summed over the frames), and the loss of CTC, where the
words are known, CTC_WEIGHT times. So the student learns to hear in noise what the teacher heard in
quiet, of speech that nobody wrote down too, and keeps the words that it knew.

Runs on a GPU where JAX has one; there a layer takes minutes.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

import jax
import jax.numpy as jnp
import numpy as np
import optax
from jax import Array
from numpy.typing import NDArray

from training import encoder_network as network
from training.acoustic_layer import BESIDE, NARROW, WIDE
from training.layer_files import CHANGED, TEACHERS, layer_file, left_out
from training.packed_speech import PackedSpeech, PackedUtterance, packed_speech
from training.room_batches import Draws, placed
from voicelog.recognition.phone_posteriors import DOWN, PHONE_INDEX, UP

__all__ = ["SEED", "train_changes"]

RANK, BATCH = 32, 64
TEACHER_STEPS, STUDENT_STEPS = 3000, 4000
SHARES = {"spoken": 0.5, "people": 0.2, "lines": 0.3}
"""Of each batch; the teacher learns from those alone whose words are known."""
TEACHER_RATE, CHANGES_RATE, LAYER_RATE = 3e-3, 3e-4, 1e-4
WARM_STEPS, WEIGHT_DECAY, LONGEST_SLOPE = 200, 1e-2, 20.0
CTC_WEIGHT = 0.15
TEACHER_DROPPED, STUDENT_DROPPED = 0.2, 0.1
BLURRED = 0.2
"""Of the spread of the encoder's numbers: noise that the teacher learns through."""
MOST_PHONES = 160
JUDGED = (("pink", np.inf), ("pink", 10.0), ("babble", 12.0))
SEED = 0

Weights = dict[str, Array]
ByKind = Mapping[str, Sequence[PackedUtterance]]


def train_changes(name: str, share: float = 1.0) -> None:
    """Train one, and keep it (layer_file, in CHANGED) unless it is there; its teacher in TEACHERS.

    name: one of LAYERS (layer_files.py). share: of the batches (0 to 1). Prints the losses (nats an
    utterance), and by teacher and student the share of phones misheard (edits over phones, the
    likeliest of each frame) of the speakers left out, or of some that were heard.
    """
    kept = layer_file(name, CHANGED)
    if kept.exists():
        return
    trainer = _Trainer(packed_speech(), left_out(name), name)
    taught = layer_file(name, TEACHERS)
    if not taught.exists():
        _keep(taught, trainer.teacher(max(1, round(TEACHER_STEPS * share))))
    with np.load(taught) as arrays:
        teacher = network.loaded(arrays)
    _keep(kept, trainer.student(teacher, max(1, round(STUDENT_STEPS * share))))


def _keep(path: Path, weights: Weights) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    part = path.with_suffix(".part.npz")
    arrays = {key: np.asarray(value, np.float16) for key, value in weights.items()}
    np.savez_compressed(part, allow_pickle=False, **arrays)
    part.replace(path)


class _Trainer:
    """One layer's training, on speech without some speakers."""

    def __init__(self, speech: PackedSpeech, without: frozenset[str], name: str) -> None:
        self._name, self._rng = name, np.random.default_rng(SEED)
        self._key = jax.random.PRNGKey(SEED)
        known = [one for one in speech.utterances if not one.people & without]
        others = [one for one in speech.utterances if one.people and one.people <= without]
        self._every = {kind: [one for one in known if one.kind == kind] for kind in SHARES}
        self._with_words = {
            kind: [one for one in some if one.phones] for kind, some in self._every.items()
        }
        judged = [one for one in others or known if one.phones]
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

    def _encoded(
        self, sound: Array, length: Array, encoder: Weights | None = None
    ) -> tuple[Array, Array]:
        mel_features, counts = network.features(sound, length, self._mel)
        return network.encode(encoder or self._encoder, mel_features), counts

    def teacher(self, steps: int) -> Weights:
        """A layer over the encoder as it is."""
        some = [self._batch(self._with_words) for _ in range(2)]
        frames = [self._frames(batch) for batch in some]
        mean = jnp.concatenate(frames).mean(0)
        spread = jnp.concatenate(frames).std(0) + 1e-5
        scaled: Weights = network.loaded(
            {
                "narrow": self._begin(len(mean), NARROW),
                "narrow bias": np.zeros(NARROW),
                "wide": self._begin(NARROW * (2 * BESIDE + 1), WIDE),
                "wide bias": np.zeros(WIDE),
                "out": self._begin(WIDE, 1 + len(PHONE_INDEX)),
                "out bias": np.zeros(1 + len(PHONE_INDEX)),
            }
        )

        def loss(weights, sounds, rooms, phones, no_phone, key):  # type: ignore[no-untyped-def]
            keys = jax.random.split(key, 4)
            _, noisy, length = placed(sounds, rooms, keys[0])
            encoded, counts = self._encoded(noisy, length)
            frames = (jax.lax.stop_gradient(encoded) - mean) / spread
            frames += BLURRED * jax.random.normal(keys[1], frames.shape)
            frames *= jax.random.bernoulli(keys[2], 0.9, frames.shape) / 0.9
            found = network.posteriors(
                weights["layer"], frames, counts, _kept(keys[3], frames, TEACHER_DROPPED)
            )
            value = _ctc(found, counts, phones, no_phone)
            return value, jnp.stack([value])

        weights = self._descended(
            "teacher", loss, {"layer": scaled}, {"layer": TEACHER_RATE}, steps, self._with_words
        )["layer"]
        # The scale goes into the first matrix.
        weights["narrow bias"] -= (mean / spread) @ weights["narrow"]
        weights["narrow"] /= spread[:, None]
        self._judge("teacher", weights, self._encoder)
        return weights

    def student(self, teacher: Weights, steps: int) -> Weights:
        """The layer trained on, and the changes of the encoder, as one archive holds them."""
        changes: Weights = {}
        for matrix in network.MATRICES:
            rows, columns = self._encoder[matrix].shape
            changes |= network.loaded(
                {matrix + UP: np.zeros((rows, RANK)), matrix + DOWN: self._begin(columns, RANK).T}
            )

        def loss(weights, sounds, rooms, phones, no_phone, key):  # type: ignore[no-untyped-def]
            keys = jax.random.split(key, 3)
            quiet, noisy, length = placed(sounds, rooms, keys[0])
            hiss = 1e-4 * jax.random.normal(keys[1], quiet.shape)
            encoded, counts = self._encoded(quiet + hiss, length)
            told = jax.lax.stop_gradient(network.posteriors(teacher, encoded, counts))
            encoder = network.changed(self._encoder, weights["changes"])
            encoded, _ = self._encoded(noisy, length, encoder)
            kept = _kept(keys[2], encoded, STUDENT_DROPPED)
            found = network.posteriors(weights["layer"], encoded, counts, kept)
            within = jnp.arange(found.shape[1]) < counts[:, None]
            apart = ((jnp.exp(told) * (told - found)).sum(-1) * within).sum() / len(found)
            ctc = _ctc(found, counts, phones, no_phone)
            return apart + CTC_WEIGHT * ctc, jnp.stack([apart, ctc])

        rates = {"layer": LAYER_RATE, "changes": CHANGES_RATE}
        begun = {"layer": dict(teacher), "changes": changes}
        weights = self._descended("student", loss, begun, rates, steps, self._every)
        encoder = network.changed(self._encoder, weights["changes"])
        self._judge("student", weights["layer"], encoder)
        return weights["layer"] | weights["changes"]

    def _descended(
        self,
        who: str,
        loss: Callable[..., tuple[Array, Array]],
        weights: dict[str, Weights],
        rates: Mapping[str, float],
        steps: int,
        learnt: ByKind,
    ) -> dict[str, Weights]:
        """The weights after so many batches."""
        descent = _descent(rates, weights, steps)
        state = descent.init(weights)

        @jax.jit
        def step(weights, state, sounds, rooms, phones, no_phone, key):  # type: ignore[no-untyped-def]
            slope, parts = jax.grad(loss, has_aux=True)(
                weights, sounds, rooms, phones, no_phone, key
            )
            change, state = descent.update(slope, state, weights)
            return optax.apply_updates(weights, change), state, parts

        began, parts = time.monotonic(), []
        for number in range(1, steps + 1):
            some = self._batch(learnt)
            weights, state, part = step(
                weights,
                state,
                self._sounds,
                self._draws.rooms(some),
                *_padded_phones(some),
                self._next_key(),
            )
            parts.append(part)
            if number % max(1, steps // 6) == 0:
                means = " ".join(f"{mean:.2f}" for mean in np.mean(np.asarray(parts), axis=0))
                parts.clear()
                passed = time.monotonic() - began
                print(f"{self._name} {who} {number}: {means}, {passed:.0f} s", flush=True)
        return weights

    def _judge(self, who: str, layer: Weights, encoder: Weights) -> None:
        @jax.jit
        def best(sounds, layer, encoder, rooms, key):  # type: ignore[no-untyped-def]
            _, noisy, length = placed(sounds, rooms, key)
            encoded, counts = self._encoded(noisy, length, encoder)
            return network.posteriors(layer, encoded, counts).argmax(-1), counts

        shares = []
        for noise in JUDGED:
            wrong = total = 0
            for at in range(0, len(self._judged), BATCH):
                some = self._judged[at : at + BATCH]
                rooms = self._draws.rooms(some, noise)
                found, counts = best(self._sounds, layer, encoder, rooms, self._next_key())
                for one, row, count in zip(
                    some, np.asarray(found), np.asarray(counts), strict=True
                ):
                    wrong += _edits(row[: int(count)], one.phones)
                    total += len(one.phones)
            shares.append(f"{wrong / total:.3f}")
        conditions = ", ".join(f"{kind} {ratio_db:g} dB" for kind, ratio_db in JUDGED)
        print(f"{self._name} {who} misheard in {conditions}: {shares}", flush=True)

    def _batch(self, learnt: ByKind) -> list[PackedUtterance]:
        whole = sum(SHARES[kind] for kind, some in learnt.items() if some)
        return [
            some[place]
            for kind, some in learnt.items()
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

    def _begin(self, *shape: int) -> NDArray[np.float64]:
        return self._rng.normal(0, shape[0] ** -0.5, shape)

    def _next_key(self) -> Array:
        self._key, now = jax.random.split(self._key)
        return now


def _kept(key: Array, frames: Array, dropped: float) -> Array:
    """Which inner numbers of a layer are not dropped, scaled."""
    return jax.random.bernoulli(key, 1 - dropped, (*frames.shape[:2], WIDE)) / (1 - dropped)


def _ctc(found: Array, counts: Array, phones: Array, no_phone: Array) -> Array:
    """The mean loss of CTC over a batch (nats); where nothing is known of the words, 0."""
    beyond = (jnp.arange(found.shape[1]) >= counts[:, None]).astype(jnp.float32)
    each = jnp.asarray(optax.ctc_loss(found, beyond, phones, no_phone))
    known = (no_phone[:, 0] == 0) & (each < 1e4)
    return jnp.where(known, each, 0.0).sum() / len(found)


def _descent(
    rates: Mapping[str, float], weights: Mapping[str, Weights], steps: int
) -> optax.GradientTransformation:
    def at(rate: float) -> optax.GradientTransformation:
        warm = min(WARM_STEPS, steps // 4 + 1)
        pace = optax.warmup_cosine_decay_schedule(0.0, rate, warm, steps + 1, 0.01 * rate)
        return optax.adamw(pace, b2=0.98, weight_decay=WEIGHT_DECAY)

    labels = {part: dict.fromkeys(known, part) for part, known in weights.items()}
    by_part = {part: at(rate) for part, rate in rates.items()}
    return optax.chain(
        optax.clip_by_global_norm(LONGEST_SLOPE), optax.multi_transform(by_part, labels)
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
