"""Train the layer that tells "thirteen" from "thirty" (recognition/teen_layer.py).

One is trained on all voices, which ships, and one without the speakers of each fold
(layer_files.py). What those say of speakers that they have not heard tells what a score is worth:
a logistic regression on it, and on the phones, makes odds of it, for the layer that ships too.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

import jax
import jax.numpy as jnp
import numpy as np
import optax
from jax import Array
from numpy.typing import NDArray
from scipy.optimize import minimize

from tests.bench.voices import data_dir
from training.layer_files import LAYERS, left_out
from training.teen_speech import TeenExample, teen_examples
from voicelog.recognition.teen_layer import AHEAD, POINTS, TeenLayer, number_points

__all__ = ["SEED", "teen_file", "train_teen_layers"]

NARROW, WIDE = 32, 64
"""Width of the first dense layer and of the second."""
BATCH, EPOCHS, LEARNING_RATE = 64, 14, 3e-3
SHIFT = 3
"""Frames by which the ends of the word are moved at random: CTC places them so too."""
VIEWS = 3
"""Of each example, one as it lies and the others moved."""
SURE = 0.99
"""What the layer is to give to the right one: none is to be made of a few examples."""
PENALTY = 1.0
SEED = 0

Floats = NDArray[np.float32]
Scored = tuple[TeenExample, float]


def teen_file(name: str) -> Path:
    """Where the layer of a name of LAYERS (layer_files.py) is kept."""
    return data_dir() / "teens" / "layers" / f"{name}.npz"


def train_teen_layers() -> dict[str, tuple[int, int]]:
    """Train and keep all, and give each what its score is worth; what is there is passed over.

    Prints, and returns by set of notes, how many numbers of speakers that the layer had not heard
    there are, and how many of those its odds take for the other.
    """
    every = list(teen_examples())
    strangers: list[Scored] = []
    for name in LAYERS:
        without = left_out(name)
        if not teen_file(name).exists():
            _save(name, _trained([one for one in every if not one.people & without]))
        layer = TeenLayer(teen_file(name))
        strangers += [
            (one, layer.score(one.frames, one.first, one.last))
            for one in every
            if one.people and one.people <= without
        ]
    heard = _by_hearing(strangers)
    odds = _fitted_odds([one for one in heard if one[0].recording])
    for name in LAYERS:
        with np.load(teen_file(name)) as kept:
            arrays = {key: kept[key] for key in kept.files}
        _write(name, {**arrays, "odds": odds})
    figures: dict[str, tuple[int, int]] = {}
    for one, score in heard:
        right, wrong = figures.get(one.recording or "training speech", (0, 0))
        miss = (float(odds @ _known(one, score)) > 0) != one.teen
        figures[one.recording or "training speech"] = (right + (not miss), wrong + miss)
    for condition, (right, wrong) in figures.items():
        print(f"{condition}: {right} right, {wrong} wrong")
    print("odds", odds)
    return figures


def _by_hearing(strangers: Sequence[Scored]) -> list[Scored]:
    """One for each utterance in one noise, with the mean score over the ways it was heard."""
    found: dict[int, list[Scored]] = {}
    for one in strangers:
        found.setdefault(one[0].group, []).append(one)
    return [(some[0][0], float(np.mean([score for _, score in some]))) for some in found.values()]


def _known(one: TeenExample, score: float) -> NDArray[np.float64]:
    return np.array((score, min(max(one.ahead, -AHEAD), AHEAD), 1.0))


def _fitted_odds(heard: Sequence[Scored]) -> NDArray[np.float32]:
    """The weights of score, nats ahead and 1 by which ln odds of -teen are best told: a penalised
    logistic regression, none of the first two below 0. Both kinds count alike, however many of each
    there are, so that the odds are those of the sound alone."""
    known = np.array([_known(one, score) for one, score in heard])
    sign = np.array([1.0 if one.teen else -1.0 for one, _ in heard])
    counts = np.where(sign > 0, 0.5 / np.mean(sign > 0), 0.5 / np.mean(sign < 0))

    def loss(weights: NDArray[np.float64]) -> tuple[float, NDArray[np.float64]]:
        odds = sign * (known @ weights)
        value = float(counts @ np.logaddexp(0.0, -odds)) + PENALTY * float(weights @ weights)
        slope = -(counts * sign / (1.0 + np.exp(odds))) @ known + 2 * PENALTY * weights
        return value, slope

    bounds = [(0.0, None), (0.0, None), (None, None)]
    found = minimize(loss, np.zeros(3), jac=True, method="L-BFGS-B", bounds=bounds)
    return np.asarray(found.x, np.float32)


def _save(name: str, weights: Mapping[str, Floats]) -> None:
    kept = {key: value.astype(np.float16) for key, value in weights.items()}
    _write(name, {**kept, "odds": np.array((1.0, 0.0, 0.0), np.float32)})


def _write(name: str, arrays: Mapping[str, NDArray[np.floating]]) -> None:
    path = teen_file(name)
    path.parent.mkdir(parents=True, exist_ok=True)
    np.savez_compressed(path, allow_pickle=False, **arrays)


def _trained(known: Sequence[TeenExample]) -> dict[str, Floats]:
    """The weights of a layer that has heard these."""
    rng = np.random.default_rng(SEED)
    points = np.stack([_views(one, rng) for one in known])
    teens = np.array([one.teen for one in known], np.float32)
    some = points[::7, 0].astype(np.float32).reshape(-1, points.shape[-1])
    mean, spread = some.mean(axis=0), some.std(axis=0) + 1e-5

    def begin(*shape: int) -> Array:
        return jnp.asarray(rng.normal(0, shape[0] ** -0.5, shape), jnp.float32)

    weights = {
        "narrow": begin(len(mean), NARROW),
        "wide": begin(NARROW * POINTS, WIDE),
        "wide bias": jnp.zeros(WIDE),
        "out": begin(WIDE, 1),
        "out bias": jnp.zeros(1),
    }

    def loss(known: dict[str, Array], batch: Array, said: Array, key: Array) -> Array:
        keys = jax.random.split(key, 3)
        scaled = (batch.astype(jnp.float32) - mean) / spread
        scaled += 0.2 * jax.random.normal(keys[0], scaled.shape)
        scaled *= jax.random.bernoulli(keys[1], 0.9, scaled.shape) / 0.9
        narrow = (scaled @ known["narrow"]).reshape(len(batch), -1)
        inner = jax.nn.gelu(narrow @ known["wide"] + known["wide bias"])
        inner *= jax.random.bernoulli(keys[2], 0.7, inner.shape) / 0.7
        score = (inner @ known["out"] + known["out bias"])[:, 0]
        target = said * (2 * SURE - 1) + 1 - SURE
        return jnp.mean(jnp.asarray(optax.sigmoid_binary_cross_entropy(score, target)))

    steps = EPOCHS * (len(known) // BATCH)
    rate = optax.warmup_cosine_decay_schedule(
        1e-4, LEARNING_RATE, min(100, steps // 4), steps, 1e-5
    )
    descent = optax.adamw(rate, weight_decay=1e-2)
    state = descent.init(weights)

    @jax.jit
    def step(known, state, batch, said, key):  # type: ignore[no-untyped-def]
        slope = jax.grad(loss)(known, batch, said, key)
        change, state = descent.update(slope, state, known)
        return optax.apply_updates(known, change), state

    key = jax.random.PRNGKey(SEED)
    for _ in range(EPOCHS):
        order = rng.permutation(len(known))
        for at in range(0, len(order) - BATCH + 1, BATCH):
            rows = order[at : at + BATCH]
            key, now = jax.random.split(key)
            view = points[rows, rng.integers(0, VIEWS, BATCH)]
            weights, state = step(weights, state, view, teens[rows], now)
    plain = {name: np.asarray(value) for name, value in weights.items()}
    plain["narrow bias"] = -(mean / spread) @ plain["narrow"]
    plain["narrow"] = plain["narrow"] / spread[:, None]
    return plain


def _views(one: TeenExample, rng: np.random.Generator) -> NDArray[np.float16]:
    """The points of a number as it lies, and with its ends moved."""
    shifts = [(0, 0), *rng.integers(-SHIFT, SHIFT + 1, (VIEWS - 1, 2)).tolist()]
    return np.stack(
        [
            number_points(one.frames, one.first + a, one.last + b).astype(np.float16)
            for a, b in shifts
        ]
    )
