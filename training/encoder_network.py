"""Whisper's encoder in JAX, as the program runs it, for a batch of sounds.

Features, encoder and the reduction of noise are those of recognition/ (whisper.py,
noise_reduction.py). packaged_layer.py holds them against what the program made of a segment.
"""

from __future__ import annotations

from collections.abc import Mapping

import jax
import jax.numpy as jnp
import numpy as np
from jax import Array
from numpy.typing import NDArray

__all__ = [
    "FRAMES",
    "SAMPLES",
    "Weights",
    "encode",
    "features",
    "frame_power",
    "loaded",
    "reduced",
]

Weights = Mapping[str, Array]
SECONDS = 10
"""The window that the program gives to the encoder, but for segments that are longer."""
SAMPLES, FRAMES = SECONDS * 16_000, SECONDS * 50
"""Samples in it, and frames of the encoder's output."""
WIDTH, HEADS, LAYERS = 384, 6, 4
"""Those of the packaged model."""
FFT, HOP = 400, 160
MEL_FRAMES = SAMPLES // HOP
NOISE_FFT, NOISE_HOP = 512, 128


def features(sound: Array, length: Array, mel: Array) -> tuple[Array, Array]:
    """The log-mel features, as faster-whisper makes them, and how many frames the encoder has.

    sound: shape (batch, SAMPLES), full scale 1, zero beyond its length. length: samples, shape
    (batch,). mel: the filters, shape (80, 201). Returns features of shape (batch, 80, MEL_FRAMES),
    zero beyond the end, and counts of shape (batch,).
    """
    window = jnp.asarray(np.hanning(FFT + 1)[:-1], jnp.float32)
    padded = jnp.pad(jnp.pad(sound, ((0, 0), (0, HOP))), ((0, 0), (FFT // 2,) * 2), "reflect")
    place = np.arange(MEL_FRAMES)[:, None] * HOP + np.arange(FFT)
    power = jnp.square(jnp.abs(jnp.fft.rfft(padded[:, place] * window, axis=-1)))
    loud = jnp.log10(jnp.maximum(jnp.einsum("mk,btk->bmt", mel, power), 1e-10))
    frames = jnp.minimum(-(-(length + HOP) // HOP), MEL_FRAMES)
    within = (jnp.arange(MEL_FRAMES) < frames[:, None])[:, None]
    top = jnp.max(jnp.where(within, loud, -10.0), axis=(1, 2), keepdims=True)
    return (jnp.maximum(loud, top - 8) + 4) / 4 * within, (frames + 1) // 2


def encode(known: Weights, mel_features: Array) -> Array:
    """The encoder's output, shape (batch, FRAMES, WIDTH), in float32; it works in bfloat16."""
    of = {name: value.astype(jnp.bfloat16) for name, value in known.items()}
    inner = jnp.moveaxis(mel_features, 1, 2).astype(jnp.bfloat16)
    for name, stride in (("conv1", 1), ("conv2", 2)):
        inner = jax.lax.conv_general_dilated(
            inner,
            jnp.transpose(of[f"{name}/weight"], (2, 1, 0)),
            (stride,),
            ((1, 1),),
            dimension_numbers=("NHC", "HIO", "NHC"),
        )
        inner = jax.nn.gelu(inner + of[f"{name}/bias"], approximate=False)
    inner = inner + of["position_encodings/encodings"][: inner.shape[1]]
    for layer in range(LAYERS):
        at = f"layer_{layer}/self_attention/"
        whole = _linear(of, at + "linear_0", _norm(of, at + "layer_norm", inner))
        query, key, value = (
            one.reshape(*one.shape[:2], HEADS, WIDTH // HEADS)
            for one in jnp.split(whole, 3, axis=-1)
        )
        seen = jax.nn.dot_product_attention(query, key, value).reshape(inner.shape)
        inner = inner + _linear(of, at + "linear_1", seen)
        at = f"layer_{layer}/ffn/"
        wide = _linear(of, at + "linear_0", _norm(of, at + "layer_norm", inner))
        inner = inner + _linear(of, at + "linear_1", jax.nn.gelu(wide, approximate=False))
    return _norm(of, "layer_norm", inner).astype(jnp.float32)


def _linear(of: Weights, name: str, inner: Array) -> Array:
    return inner @ of[f"{name}/weight"].T + of[f"{name}/bias"]


def _norm(of: Weights, name: str, inner: Array) -> Array:
    exact = inner.astype(jnp.float32)
    centred = exact - exact.mean(-1, keepdims=True)
    scaled = centred * jax.lax.rsqrt(jnp.square(centred).mean(-1, keepdims=True) + 1e-5)
    return scaled.astype(inner.dtype) * of[f"{name}/gamma"] + of[f"{name}/beta"]


def frame_power(sound: Array) -> Array:
    """The mean power of sounds in each bin, as `noise_reduction.power` counts it."""
    return jnp.square(jnp.abs(_spectra(sound))).mean(axis=1)


def reduced(sound: Array, noise: Array) -> Array:
    """`noise_reduction.reduce_noise` of a batch: noise has shape (batch, bins)."""
    spectra = _spectra(sound)
    ratios = jnp.square(jnp.abs(spectra)) / jnp.maximum(noise, 1e-12)[:, None]

    def step(speech: Array, ratio: Array) -> tuple[Array, Array]:
        likely = jnp.maximum(0.96 * speech + 0.04 * jnp.maximum(ratio - 1, 0), 1e-2)
        gain = jnp.maximum(likely / (1 + likely), 0.1)
        return gain * gain * ratio, gain

    _, gains = jax.lax.scan(
        step, jnp.zeros_like(ratios[:, 0]), jnp.moveaxis(ratios, 1, 0), unroll=8
    )
    parts = jnp.fft.irfft(spectra * jnp.moveaxis(gains, 0, 1), axis=-1) * _noise_window()
    count, width = parts.shape[1], sound.shape[1] + 3 * NOISE_FFT
    whole = jnp.zeros((len(sound), width))
    for quarter in range(4):
        # Every fourth frame begins where the last one ends.
        some = parts[:, quarter::4].reshape(len(sound), -1)
        at = quarter * NOISE_HOP
        whole = whole.at[:, at : at + some.shape[1]].add(some)
    assert (count - 1) * NOISE_HOP + NOISE_FFT <= width
    return whole[:, NOISE_FFT : NOISE_FFT + sound.shape[1]] / 2


def _spectra(sound: Array) -> Array:
    padded = jnp.pad(sound, ((0, 0), (NOISE_FFT, 2 * NOISE_FFT)))
    count = (padded.shape[1] - NOISE_FFT) // NOISE_HOP + 1
    place = np.arange(count)[:, None] * NOISE_HOP + np.arange(NOISE_FFT)
    return jnp.fft.rfft(padded[:, place] * _noise_window(), axis=-1)


def _noise_window() -> Array:
    return jnp.asarray(np.sqrt(np.hanning(NOISE_FFT + 1)[:-1]), jnp.float32)


def loaded(arrays: Mapping[str, NDArray[np.generic]]) -> dict[str, Array]:
    """Arrays as weights, float32."""
    return {name: jnp.asarray(value, jnp.float32) for name, value in arrays.items()}
