"""Make a Whisper model's folder that is whole in form and in which nothing could be heard."""

from __future__ import annotations

import struct
from pathlib import Path

__all__ = ["weights_file", "whisper_folder"]


def weights_file(kind: str = "WhisperSpec", tokens: int = 51_864) -> bytes:
    """A weights file with one variable, the embedding of `tokens` tokens, of width 1."""

    def text(words: str) -> bytes:
        raw = words.encode() + b"\0"
        return struct.pack("<H", len(raw)) + raw

    name = "decoder/embeddings/weight"
    return b"".join(
        [
            struct.pack("<I", 6),
            text(kind),
            struct.pack("<II", 3, 1),
            text(name),
            struct.pack("<BIIBI", 2, tokens, 1, 1, tokens),
            bytes(tokens),
            struct.pack("<I", 1),
            text("decoder/projection/weight"),
            text(name),
        ]
    )


def whisper_folder(folder: Path, weights: bytes | None = None) -> Path:
    """Fill `folder` with the four files of a model of English, and return it."""
    folder.mkdir(parents=True, exist_ok=True)
    for name in ("config.json", "tokenizer.json", "vocabulary.txt"):
        (folder / name).write_text("{}", "utf-8")
    (folder / "model.bin").write_bytes(weights_file() if weights is None else weights)
    return folder
