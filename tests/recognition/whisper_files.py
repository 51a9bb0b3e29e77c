"""Make a folder with a Whisper model's files, in which nothing could be heard."""

from __future__ import annotations

from pathlib import Path

__all__ = ["whisper_folder"]


def whisper_folder(folder: Path) -> Path:
    """Fill `folder` with the four files of a model, and return it."""
    folder.mkdir(parents=True, exist_ok=True)
    for name in ("config.json", "tokenizer.json", "vocabulary.txt"):
        (folder / name).write_text("{}", "utf-8")
    (folder / "model.bin").write_bytes(b"no weights")
    return folder
