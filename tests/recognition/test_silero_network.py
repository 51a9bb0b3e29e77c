"""The network tells what Silero's own model tells, by weights that are those published."""

from __future__ import annotations

import hashlib
import json
import shutil
import tomllib
from pathlib import Path

import numpy as np
import pytest

from tests.recognition.silero_cases import REFERENCE_FILE, reference_sounds
from training.detector import Weights, arranged
from voicelog.recognition.silero_network import (
    CONTEXT,
    DETECTOR_CARD,
    DETECTOR_FOLDER,
    FRAME,
    DetectorFileError,
    LstmState,
    SileroNetwork,
    load_network,
    shipped_network,
)

REFERENCE = json.loads(REFERENCE_FILE.read_text("utf-8"))


@pytest.mark.parametrize("name", REFERENCE["probabilities"])
def test_each_frame_is_as_likely_speech_as_the_model_itself_says(name: str) -> None:
    """The model itself: by ONNX Runtime, in the package and version that the file names."""
    network, state = shipped_network(), LstmState.at_start()
    sound = np.concatenate((np.zeros(CONTEXT, np.float32), reference_sounds()[name]))
    told = []
    for end in range(CONTEXT + FRAME, len(sound) + 1, FRAME):
        likely, state = network(sound[end - FRAME - CONTEXT : end], state)
        told.append(likely)
    assert told == pytest.approx(REFERENCE["probabilities"][name], abs=1e-4)


def test_the_reference_holds_speech_and_none() -> None:
    told = REFERENCE["probabilities"]
    assert min(map(max, (told["speech"], told["speech in noise"]))) > 0.95
    assert min(map(min, told.values())) < 0.01


# --- the arithmetic, against the operators' definitions


def made_up(seed: int = 3) -> Weights:
    """Weights of the published names and shapes."""
    draw = np.random.default_rng(seed)
    shapes: dict[str, tuple[int, ...]] = {"stft.forward_basis_buffer": (258, 1, 256)}
    sizes = (129, 128, 64, 64, 128)
    for number in range(4):
        shapes[f"encoder.{number}.reparam_conv.weight"] = (*sizes[number : number + 2][::-1], 3)
        shapes[f"encoder.{number}.reparam_conv.bias"] = (sizes[number + 1],)
    for side in ("ih", "hh"):
        shapes[f"decoder.rnn.weight_{side}"] = (512, 128)
        shapes[f"decoder.rnn.bias_{side}"] = (512,)
    shapes["decoder.decoder.2.weight"], shapes["decoder.decoder.2.bias"] = (1, 128, 1), (1,)
    return {
        name: (draw.standard_normal(shape) / 12).astype(np.float32)
        for name, shape in shapes.items()
    }


def convolved(rows: np.ndarray, kernel: np.ndarray, step: int, beyond: int) -> np.ndarray:
    """Conv of the ONNX operators: rows (channels, places), zeros `beyond` each end."""
    rows = np.pad(rows, ((0, 0), (beyond, beyond)))
    width = kernel.shape[2]
    places = range(0, rows.shape[1] - width + 1, step)
    return np.array([[np.sum(one * rows[:, at : at + width]) for at in places] for one in kernel])


def told_plainly(known: Weights, sound: np.ndarray, steps: int) -> list[float]:
    """What a network of those weights tells of a sound given again and again, in double
    precision, operator by operator: Pad (reflect), Conv, Relu, LSTM, Sigmoid."""
    rows = np.pad(sound.astype(float), (0, 64), "reflect")[None]
    waves = convolved(rows, known["stft.forward_basis_buffer"].astype(float), 128, 0)
    rows = np.hypot(waves[:129], waves[129:])
    for number, step in enumerate((1, 2, 2, 1)):
        name = f"encoder.{number}.reparam_conv"
        rows = convolved(rows, known[f"{name}.weight"].astype(float), step, 1)
        rows = np.maximum(rows + known[f"{name}.bias"][:, None], 0)
    (x,) = rows.T
    hidden, cell, told = np.zeros(128), np.zeros(128), []
    for _ in range(steps):
        scores = known["decoder.rnn.weight_ih"] @ x + known["decoder.rnn.bias_ih"]
        scores += known["decoder.rnn.weight_hh"] @ hidden + known["decoder.rnn.bias_hh"]
        i, f, g, o = np.split(scores, 4)
        cell = cell / (1 + np.exp(-f)) + np.tanh(g) / (1 + np.exp(-i))
        hidden = np.tanh(cell) / (1 + np.exp(-o))
        score = known["decoder.decoder.2.weight"][0, :, 0] @ np.maximum(hidden, 0)
        told.append(float(1 / (1 + np.exp(-score - known["decoder.decoder.2.bias"][0]))))
    return told


def test_weights_are_rearranged_so_that_the_operators_come_out() -> None:
    known = made_up()
    sound = np.random.default_rng(4).uniform(-1, 1, CONTEXT + FRAME).astype(np.float32)
    network, state, told = SileroNetwork(arranged(known)), LstmState.at_start(), []
    for _ in range(3):
        likely, state = network(sound, state)
        told.append(likely)
    assert len(set(told)) == 3
    assert told == pytest.approx(told_plainly(known, sound, 3), abs=1e-5)


# --- the files that ship


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A copy of what ships."""
    return Path(shutil.copytree(DETECTOR_FOLDER, tmp_path / "detector"))


def problem(folder: Path) -> str:
    with pytest.raises(DetectorFileError) as raised:
        load_network(folder)
    text = str(raised.value)
    assert text.endswith("detector that ship; install voicelog again.")
    return text.removeprefix("Found ").partition(f" in '{folder}', wanted the weights")[0]


def test_the_card_tells_origin_and_licence_and_the_licence_lies_beside() -> None:
    card = tomllib.loads((DETECTOR_FOLDER / DETECTOR_CARD).read_text("utf-8"))
    assert {"origin", "origin_sha256", "licence", "copyright", "made", "command"} <= set(card)
    kept = (DETECTOR_FOLDER / card["file"]).read_bytes()
    assert hashlib.sha256(kept).hexdigest() == card["sha256"]
    licence = (DETECTOR_FOLDER / "LICENSE.silero").read_text("utf-8")
    assert licence.startswith("MIT License")
    assert f"Copyright (c) {card['copyright']}" in licence


def test_other_weights_than_the_cards_are_refused(folder: Path) -> None:
    weights = folder / "silero-vad.npz"
    kept = bytearray(weights.read_bytes())
    kept[len(kept) // 2] ^= 1
    weights.write_bytes(kept)
    assert problem(folder) == "another silero-vad.npz than the card tells of"


def test_missing_weights_are_told(folder: Path) -> None:
    (folder / "silero-vad.npz").unlink()
    assert problem(folder) == "no silero-vad.npz"


@pytest.mark.parametrize("text", ["", "file = ", 'file = "silero-vad.npz"'])
def test_a_card_that_cannot_be_read_is_told(folder: Path, text: str) -> None:
    (folder / DETECTOR_CARD).write_text(text)
    assert problem(folder).startswith("no card that can be read (")


def test_a_missing_card_is_told(folder: Path) -> None:
    (folder / DETECTOR_CARD).unlink()
    assert problem(folder).startswith("no card that can be read (")
