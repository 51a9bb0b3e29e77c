"""Find speech models on this computer, and refuse those that are not whole.

Nothing is fetched here. Models are folders in the places named by VOICELOG_MODELS (one or
more folders, separated as in PATH) and in the user's data folder. A Vosk model says its
language in its folder's name, as they are published: "vosk-model-small-en-us-0.15". A folder in
which a file is missing, empty or cut short is never used.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from platformdirs import user_data_dir

from voicelog.model import VoicelogError
from voicelog.recognition import fst

__all__ = [
    "ModelError",
    "VoskModel",
    "VoskModels",
    "model_folders",
    "vosk_model_for",
    "vosk_models",
]

ENVIRONMENT = "VOICELOG_MODELS"

_NAME = re.compile(r"vosk-(?:model-)?(?:small-)?(?P<language>[a-z]{2,3}(?:-[a-z]{2})?)(?:-.*)?")
_ALWAYS = (
    "am/final.mdl",
    "conf/mfcc.conf",
    "conf/model.conf",
    "graph/HCLr.fst",
    "graph/Gr.fst",
    "graph/disambig_tid.int",
    "graph/phones/word_boundary.int",
)
_WITH_IVECTORS = (
    "ivector/final.dubm",
    "ivector/final.ie",
    "ivector/final.mat",
    "ivector/global_cmvn.stats",
    "ivector/online_cmvn.conf",
    "ivector/splice.conf",
)


class ModelError(VoicelogError):
    """A folder that cannot be used as a speech model."""


@dataclass(frozen=True, slots=True)
class VoskModel:
    """A whole Vosk model whose grammar can be exchanged.

    name: its folder's name without "vosk-model-" ("small-en-us-0.15").
    language: "en", or with a region "en-us".
    """

    folder: Path
    name: str
    language: str

    @classmethod
    def read(cls, folder: Path) -> VoskModel:
        """Check that `folder` is a whole model. Raises ModelError when it is not."""
        named = _NAME.fullmatch(folder.name)
        if named is None:
            raise ModelError(
                f"Found the folder name '{folder.name}', wanted a Vosk model's, such as "
                "vosk-model-small-en-us-0.15; give the folder its published name."
            )
        if (folder / "graph/HCLG.fst").exists() and not (folder / "graph/HCLr.fst").exists():
            raise ModelError(
                f"Found in '{folder}' a Vosk model with one fixed graph (HCLG.fst), wanted one "
                "that can be held to a grammar (HCLr.fst and Gr.fst); take a model named small "
                "or lgraph."
            )
        wanted = _ALWAYS + (_WITH_IVECTORS if (folder / "ivector").exists() else ())
        for name in wanted:
            path = folder / name
            # online_cmvn.conf holds only options, and may well hold none
            if not path.is_file() or not (path.stat().st_size or name.endswith(".conf")):
                what = "an empty" if path.is_file() else "no"
                raise ModelError(
                    f"Found {what} {name} in '{folder}', wanted a whole Vosk model; unpack "
                    "the model again."
                )
        return cls(folder, folder.name.removeprefix("vosk-").removeprefix("model-"), named[1])

    def word_ids(self) -> dict[str, int]:
        """Every word that the model knows and its number in the graph.

        Raises ModelError, or fst.FstError, when there is no readable word list.
        """
        ids = fst.read_symbols(self.folder / "graph/Gr.fst")
        if ids is not None:
            return ids
        try:
            lines = (self.folder / "graph/words.txt").read_text("utf-8").splitlines()
            return {word: int(number) for word, number in map(str.split, lines)}
        except (OSError, ValueError) as problem:
            raise ModelError(
                f"Found no word list in '{self.folder}' ({problem}), wanted one inside "
                "graph/Gr.fst or in graph/words.txt; unpack the model again."
            ) from problem


@dataclass(frozen=True, slots=True)
class VoskModels:
    """What was found: models that are whole, and what is wrong with each of the others."""

    whole: tuple[VoskModel, ...]
    broken: tuple[ModelError, ...]


def model_folders() -> tuple[Path, ...]:
    """The folders in which models are looked for, first to last."""
    named = os.environ.get(ENVIRONMENT, "").split(os.pathsep)
    return (*(Path(name) for name in named if name), Path(user_data_dir("voicelog")) / "models")


def vosk_models(among: Iterable[Path] | None = None) -> VoskModels:
    """Every vosk-* folder in the folders `among` (default: `model_folders()`), in order of name."""
    whole: list[VoskModel] = []
    broken: list[ModelError] = []
    for place in model_folders() if among is None else among:
        for folder in sorted(place.glob("vosk-*")):
            if folder.is_dir():
                try:
                    whole.append(VoskModel.read(folder))
                except ModelError as problem:
                    broken.append(problem)
    return VoskModels(tuple(whole), tuple(broken))


def vosk_model_for(language: str, among: Iterable[Path] | None = None) -> VoskModel | None:
    """The first whole Vosk model for a grammar's language, or None.

    A grammar in "en" takes any model of English; one in "en-us" rather takes that region,
    else any English. Letter case and "_" for "-" do not matter.
    """
    wanted = language.casefold().replace("_", "-")
    models = vosk_models(among).whole
    same = [model for model in models if model.language == wanted]
    tongue = wanted.partition("-")[0]
    near = [model for model in models if model.language.partition("-")[0] == tongue]
    return next(iter(same + near), None)
