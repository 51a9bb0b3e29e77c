"""Write the artifact that ships: the layers, the weights with the thresholds, and their card."""

from __future__ import annotations

import hashlib
import json
import shutil
import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from voicelog.recognition.fusion import FusionModels
from voicelog.recognition.trained_artifact import (
    CARD_FILE,
    FUSION_FILE,
    FusionFile,
    load_artifact,
)

__all__ = ["LAYER_FILE", "TEEN_LAYER_FILE", "read_card", "toml", "write_artifact"]

LAYER_FILE = "tiny.en-phones.npz"
TEEN_LAYER_FILE = "tiny.en-teens.npz"
HEADING = "# Written by python -m training. What each part was made of, and how well it does.\n"


def write_artifact(
    folder: Path,
    version: int,
    layer: Path,
    teen_layer: Path,
    models: FusionModels,
    *,
    about_layer: Mapping[str, Any],
    about_teens: Mapping[str, Any],
    about_fusion: Mapping[str, Any],
) -> None:
    """Write an artifact and load it once, so that none is written that would be refused.

    layer, teen_layer: the layers' files, which may be those in the folder. about_...: what the card
    tells of the layers and the weights: strings, numbers, lists of them, and mappings.
    """
    folder.mkdir(parents=True, exist_ok=True)
    layer_sha256 = _placed(layer, folder / LAYER_FILE)
    teens_sha256 = _placed(teen_layer, folder / TEEN_LAYER_FILE)
    fusion = FusionFile(version=version, layer_sha256=layer_sha256, models=models)
    text = json.dumps(fusion.model_dump(mode="json"), indent=2)
    (folder / FUSION_FILE).write_text(text + "\n", encoding="utf-8")
    card = {
        "version": version,
        "layer": {"file": LAYER_FILE, "sha256": layer_sha256, **about_layer},
        "teens": {"file": TEEN_LAYER_FILE, "sha256": teens_sha256, **about_teens},
        "fusion": {
            "file": FUSION_FILE,
            "sha256": _sha256(folder / FUSION_FILE),
            **about_fusion,
        },
    }
    (folder / CARD_FILE).write_text(HEADING + toml(card), encoding="utf-8")
    load_artifact(folder)


def _placed(layer: Path, place: Path) -> str:
    """Put a layer in its place, unless it is there; its SHA-256."""
    if layer.resolve() != place.resolve():
        shutil.copyfile(layer, place)
    return _sha256(place)


def read_card(folder: Path) -> dict[str, Any]:
    """The card of an artifact, as a mapping."""
    return tomllib.loads((folder / CARD_FILE).read_text("utf-8"))


def toml(table: Mapping[str, Any]) -> str:
    """A mapping of strings, numbers, lists of them and such mappings, as TOML."""
    return "\n".join(_lines(table, ())) + "\n"


def _lines(table: Mapping[str, Any], path: tuple[str, ...]) -> Iterator[str]:
    tables = {name: value for name, value in table.items() if isinstance(value, Mapping)}
    if path:
        yield ""
        yield f"[{'.'.join(map(_key, path))}]"
    for name, value in table.items():
        if name not in tables:
            # TOML writes these as JSON does.
            yield f"{_key(name)} = {json.dumps(value, ensure_ascii=False)}"
    for name, value in tables.items():
        yield from _lines(value, (*path, name))


def _key(name: str) -> str:
    plain = name.replace("_", "").replace("-", "")
    return name if plain.isascii() and plain.isalnum() else json.dumps(name)


def _sha256(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()
