"""The artifact that ships is whole, and none is loaded whose parts do not belong together."""

from __future__ import annotations

import hashlib
import json
import shutil
import tomllib
from pathlib import Path

import numpy as np
import pytest

from voicelog.grammar.pronunciation import PHONES
from voicelog.recognition.features import IN_NOISE, SIGNS
from voicelog.recognition.trained_artifact import (
    ARTIFACT_FOLDER,
    CARD_FILE,
    FUSION_FILE,
    ArtifactError,
    load_artifact,
    shipped_artifact,
)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A copy of the artifact that ships."""
    return Path(shutil.copytree(ARTIFACT_FOLDER, tmp_path / "artifact"))


def replace(path: Path, old: str, new: str) -> None:
    text = path.read_text("utf-8")
    assert old in text
    path.write_text(text.replace(old, new), "utf-8")


def problem(folder: Path) -> str:
    """What is wrong with an artifact, in the middle of the sentence."""
    with pytest.raises(ArtifactError) as raised:
        load_artifact(folder)
    text = str(raised.value)
    head, tail = "Found ", f" in '{folder}', wanted the acoustic layer and the fusion weights that "
    assert text.startswith(head)
    assert text.endswith(tail + "ship together; install voicelog again.")
    return text.removeprefix(head).partition(tail)[0]


def test_what_ships_is_whole_and_its_card_tells_what_it_was_made_of() -> None:
    shipped = shipped_artifact()
    card = tomllib.loads((ARTIFACT_FOLDER / CARD_FILE).read_text("utf-8"))
    assert shipped.decision_version == f"evidence {card['version']}"
    assert shipped.name_with_layer("tiny.en") == f"tiny.en, phones {card['layer']['version']}"
    assert {"licence", "trained_on", "voices", "seed", "command", "figures"} <= set(card["layer"])
    assert {"licence", "fitted_on", "seed", "command", "figures"} <= set(card["fusion"])
    layer = shipped.layer()
    assert layer(np.zeros((3, layer.width), np.float32)).shape == (3, 1 + len(PHONES))
    assert {"licence", "trained_on", "voices", "seed", "command", "figures"} <= set(card["teens"])


@pytest.mark.parametrize("passes", ["quick", "careful", "unaligned", "both"])
@pytest.mark.parametrize(("name", "sign"), SIGNS.items())
def test_no_weight_has_the_wrong_sign_in_quiet_or_in_any_noise(
    passes: str, name: str, sign: int
) -> None:
    weights = getattr(shipped_artifact().fusion, passes).weights
    quiet = weights.get(name, 0.0)
    full_noise = quiet + weights.get(IN_NOISE.get(name, ""), 0.0)
    assert sign * quiet >= 0.0
    assert sign * full_noise >= -1e-9


def test_it_is_read_once() -> None:
    assert shipped_artifact() is shipped_artifact()


@pytest.mark.parametrize("name", ["tiny.en-phones.npz", "tiny.en-teens.npz", FUSION_FILE])
def test_a_part_that_was_exchanged_is_refused(folder: Path, name: str) -> None:
    (folder / name).write_bytes((folder / name).read_bytes() + b" ")
    assert problem(folder) == f"another {name} than the card tells of"


@pytest.mark.parametrize("name", ["tiny.en-phones.npz", "tiny.en-teens.npz", FUSION_FILE])
def test_a_part_that_is_missing_is_refused(folder: Path, name: str) -> None:
    (folder / name).unlink()
    assert problem(folder) == f"no {name}"


@pytest.mark.parametrize("text", [None, "version = ", "version = 6", 'version = "x"\n[layer]'])
def test_a_card_that_cannot_be_read_is_refused(folder: Path, text: str | None) -> None:
    if text is None:
        (folder / CARD_FILE).unlink()
    else:
        (folder / CARD_FILE).write_text(text)
    assert problem(folder).startswith("no card that can be read (")


def changed(folder: Path, **values: object) -> None:
    """Change fusion.json, and the card with it, so that only what belongs together differs."""
    path = folder / FUSION_FILE
    old = hashlib.sha256(path.read_bytes()).hexdigest()
    path.write_text(json.dumps(json.loads(path.read_text()) | values))
    replace(folder / CARD_FILE, old, hashlib.sha256(path.read_bytes()).hexdigest())


def test_weights_of_another_layer_are_refused(folder: Path) -> None:
    changed(folder, layer_sha256="0" * 64)
    assert problem(folder) == "fusion weights that were fitted on another acoustic layer"


def test_weights_of_another_version_are_refused(folder: Path) -> None:
    changed(folder, version=1)
    version = shipped_artifact().version
    assert problem(folder) == f"fusion weights of version 1, not {version}"


def test_weights_in_another_form_are_refused(folder: Path) -> None:
    changed(folder, models={})
    assert problem(folder) == f"a {FUSION_FILE} that cannot be read"
