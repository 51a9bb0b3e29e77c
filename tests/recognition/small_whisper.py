"""Make a Whisper model of few and narrow layers with random weights, as faster-whisper reads it."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path

import numpy as np
from ctranslate2.specs import WhisperSpec
from numpy.typing import NDArray

__all__ = ["LAYERS", "WIDTH", "small_whisper"]

WIDTH, LAYERS, HEADS, MELS = 64, 2, 1, 80
WORDS = ("<|endoftext|>", "<|startoftranscript|>", "<|notimestamps|>", "a", "b")


def small_whisper(
    folder: Path,
    *,
    half: bool = False,
    added: Mapping[str, NDArray[np.float32]] | None = None,
) -> Path:
    """Fill `folder` with a model that hears nothing, and return it.

    half: its numbers are float16. added: what is added to a matrix of its encoder, by the name
    that the file will give it.
    """
    folder.mkdir(parents=True, exist_ok=True)
    rng = np.random.default_rng(0)
    spec = WhisperSpec(LAYERS, HEADS, 1, HEADS)
    for side in (spec.encoder, spec.decoder):
        for name, shape in _shapes(side is spec.encoder).items():
            values = rng.normal(0, 0.1, shape).astype(np.float32)
            if side is spec.encoder and (more := _in_file(name, added)) is not None:
                values = values + more
            _fill(side, name, values)
    spec.register_vocabulary(list(WORDS))
    spec.config.suppress_ids, spec.config.suppress_ids_begin, spec.config.lang_ids = [], [], []
    spec.config.alignment_heads = [[0, 0]]
    spec.validate()
    if half:
        spec.optimize("float16")
    spec.save(str(folder))
    (folder / "tokenizer.json").write_text(json.dumps({}), "utf-8")
    return folder


def _in_file(
    name: str, added: Mapping[str, NDArray[np.float32]] | None
) -> NDArray[np.float32] | None:
    return (added or {}).get(name.replace("layer.", "layer_").replace(".", "/"))


def _shapes(encoder: bool) -> dict[str, tuple[int, ...]]:
    found: dict[str, tuple[int, ...]] = {}
    if encoder:
        found |= {
            "conv1.weight": (WIDTH, MELS, 3),
            "conv1.bias": (WIDTH,),
            "conv2.weight": (WIDTH, WIDTH, 3),
            "conv2.bias": (WIDTH,),
            "position_encodings.encodings": (1500, WIDTH),
        }
    else:
        found |= {
            "embeddings.weight": (len(WORDS), WIDTH),
            "position_encodings.encodings": (448, WIDTH),
            "projection.weight": (len(WORDS), WIDTH),
        }
    found |= _norm("layer_norm")
    for layer in range(LAYERS if encoder else 1):
        at = f"layer.{layer}"
        found |= _attention(f"{at}.self_attention", (3 * WIDTH, WIDTH))
        if not encoder:
            found |= _attention(f"{at}.attention", (WIDTH, 2 * WIDTH, WIDTH))
        found |= _norm(f"{at}.ffn.layer_norm")
        found |= _linear(f"{at}.ffn.linear_0", 4 * WIDTH, WIDTH)
        found |= _linear(f"{at}.ffn.linear_1", WIDTH, 4 * WIDTH)
    return found


def _attention(at: str, widths: tuple[int, ...]) -> dict[str, tuple[int, ...]]:
    found = _norm(f"{at}.layer_norm")
    for place, width in enumerate(widths):
        found |= _linear(f"{at}.linear.{place}", width, WIDTH)
    return found


def _linear(at: str, width: int, of: int) -> dict[str, tuple[int, ...]]:
    return {f"{at}.weight": (width, of), f"{at}.bias": (width,)}


def _norm(at: str) -> dict[str, tuple[int, ...]]:
    return {f"{at}.gamma": (WIDTH,), f"{at}.beta": (WIDTH,)}


def _fill(
    spec: object, name: str, values: np.ndarray[tuple[int, ...], np.dtype[np.float32]]
) -> None:
    *parents, last = name.split(".")
    for parent in parents:
        spec = spec[int(parent)] if isinstance(spec, list) else getattr(spec, parent)
    setattr(spec, last, values)
