"""What was learnt and ships: two layers and the fusion weights, as one versioned artifact.

The folder artifact/ holds the acoustic layer and the one that tells -teen from -ty (archives of
NumPy), fusion.json with the weights and thresholds, and card.toml, which tells what they were
trained on, with which command, how well they did, and the SHA-256 of each. Weights are worth
something only with the layer that they were fitted on, so all are loaded and checked together.
training/ makes them.
"""

from __future__ import annotations

import hashlib
import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from pydantic import ValidationError

from voicelog.model import FrozenModel, VoicelogError
from voicelog.recognition.fusion import FusionModels
from voicelog.recognition.phone_posteriors import PhoneLayer
from voicelog.recognition.teen_layer import TeenLayer

__all__ = [
    "ARTIFACT_FOLDER",
    "CARD_FILE",
    "FUSION_FILE",
    "Artifact",
    "ArtifactError",
    "FusionFile",
    "load_artifact",
    "shipped_artifact",
]

ARTIFACT_FOLDER = Path(__file__).parent / "artifact"
CARD_FILE, FUSION_FILE = "card.toml", "fusion.json"


class ArtifactError(VoicelogError):
    """The artifact that ships is damaged, or its parts do not belong together."""

    def __init__(self, folder: Path, problem: str) -> None:
        super().__init__(
            f"Found {problem} in '{folder}', wanted the acoustic layer and the fusion weights that "
            "ship together; install voicelog again."
        )


class FusionFile(FrozenModel):
    """fusion.json: the models, the artifact's version, and the SHA-256 of the layer that they were
    fitted on."""

    version: int
    layer_sha256: str
    models: FusionModels


@dataclass(frozen=True, slots=True)
class Artifact:
    """The artifact, checked.

    version: goes up whenever what a reading is judged by changes: layer, weights, thresholds, or
        the rules of decision.py.
    layer_version: goes up with the layer alone.
    """

    version: int
    layer_version: int
    layer_file: Path
    teen_layer_file: Path
    fusion: FusionModels

    @property
    def decision_version(self) -> str:
        """Name and version of the way of judging; goes into every verdict."""
        return f"evidence {self.version}"

    def layer(self) -> PhoneLayer:
        """The acoustic layer; 0.4 MB are read each time."""
        return PhoneLayer(self.layer_file)

    def teen_layer(self) -> TeenLayer:
        """The layer that tells -teen from -ty; 0.1 MB are read each time."""
        return TeenLayer(self.teen_layer_file)

    def name_with_layer(self, model: str) -> str:
        """The name of the model that the layer belongs to, with the layer's version."""
        return f"{model}, phones {self.layer_version}"


@cache
def shipped_artifact() -> Artifact:
    """The artifact of this installation. Raises ArtifactError when it is damaged."""
    return load_artifact(ARTIFACT_FOLDER)


def load_artifact(folder: Path) -> Artifact:
    """Read and check an artifact: the hashes of its card, and that its parts belong together.

    Raises ArtifactError with what is wrong.
    """
    try:
        card = tomllib.loads((folder / CARD_FILE).read_text("utf-8"))
        version, layer, teens = int(card["version"]), card["layer"], card["teens"]
        teen_layer_file = folder / str(teens["file"])
        layer_file, layer_version = folder / str(layer["file"]), int(layer["version"])
        wanted = {
            layer_file: layer["sha256"],
            teen_layer_file: teens["sha256"],
            folder / FUSION_FILE: card["fusion"]["sha256"],
        }
    except (OSError, ValueError, KeyError, TypeError) as problem:
        raise ArtifactError(folder, f"no card that can be read ({problem})") from problem
    for path, sha256 in wanted.items():
        if _sha256(folder, path) != sha256:
            raise ArtifactError(folder, f"another {path.name} than the card tells of")
    try:
        fusion = FusionFile.model_validate_json((folder / FUSION_FILE).read_bytes())
    except ValidationError as problem:
        raise ArtifactError(folder, f"a {FUSION_FILE} that cannot be read") from problem
    if fusion.layer_sha256 != layer["sha256"]:
        raise ArtifactError(folder, "fusion weights that were fitted on another acoustic layer")
    if fusion.version != version:
        raise ArtifactError(folder, f"fusion weights of version {fusion.version}, not {version}")
    return Artifact(version, layer_version, layer_file, teen_layer_file, fusion.models)


def _sha256(folder: Path, path: Path) -> str:
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError as problem:
        raise ArtifactError(folder, f"no {path.name}") from problem
