"""Take from the file of a Whisper model what is used here: its encoder.

The decoder is never asked, and is most of a small model's file. CTranslate2 loads a model from
memory, but wants a decoder in it: so the first layer of that is kept, with embeddings of a few
words. The encoder puts out the same, number for number, and its process takes some 85 MB less.

The file (model.bin, version 6 of CTranslate2) holds, all little-endian: a number, the name of its
kind, its revision, how many arrays there are; then of each its name, how many dimensions, these,
the kind of number, how many bytes, and the bytes; then names that stand for others. A name is its
length in two bytes, and letters that end with a zero.
"""

from __future__ import annotations

import io
import json
import struct
from pathlib import Path
from typing import BinaryIO

import numpy as np
from numpy.typing import NDArray

__all__ = ["encoder_arrays", "encoder_files"]

MODEL_FILE = "model.bin"
VERSION = 6
HALF = 4
"""The kind of number that is a float16."""
MOST_DIMENSIONS = 8
ENCODER = "encoder/"
DECODER, FIRST_LAYER = "decoder/layer_", "decoder/layer_0/"
BY_WORD = ("decoder/embeddings/", "decoder/projection/")
"""Arrays with a row for each word of the vocabulary."""
WORDS = (
    "<|endoftext|>",
    "<|startoftranscript|>",
    "<|notimestamps|>",
    "<|startofprev|>",
    "<|startoflm|>",
    "<|nospeech|>",
)
"""What a model's vocabulary is never without."""


def encoder_files(folder: Path) -> dict[str, bytes]:
    """The files of a Whisper model in a folder by their names, cut to the encoder.

    Raises OSError where the file cannot be read, ValueError where it has another form or ends too
    soon.
    """
    with (folder / MODEL_FILE).open("rb") as file:
        model = _cut(file)
    return {
        MODEL_FILE: model,
        "config.json": json.dumps({}).encode(),
        "vocabulary.txt": "\n".join(WORDS).encode(),
    }


def encoder_arrays(folder: Path) -> dict[str, NDArray[np.float16]]:
    """The encoder's arrays of float16 by their names, of a model in a folder.

    Raises OSError and ValueError as `encoder_files` does.
    """
    found = {}
    with (folder / MODEL_FILE).open("rb") as file:
        for _ in range(_begin(file)[2]):
            name, shape, number, size = _array(file)
            content = _read(file, size)
            if name.startswith(ENCODER) and number == HALF:
                array = np.frombuffer(content, "<f2").reshape(shape)
                found[name.removeprefix(ENCODER)] = array
    return found


def _cut(file: BinaryIO) -> bytes:
    kind, revision, count = _begin(file)
    kept, body = 0, io.BytesIO()
    for _ in range(count):
        name, shape, number, size = _array(file)
        if name.startswith(DECODER) and not name.startswith(FIRST_LAYER):
            file.seek(size, io.SEEK_CUR)
            continue
        if name.startswith(BY_WORD) and shape and shape[0] > len(WORDS):
            content = _read(file, size // shape[0] * len(WORDS))
            file.seek(size - len(content), io.SEEK_CUR)
            shape = (len(WORDS), *shape[1:])
        else:
            content = _read(file, size)
        body.write(_with_length(name) + struct.pack(f"<B{len(shape)}I", len(shape), *shape))
        body.write(struct.pack("<BI", number, len(content)) + content)
        kept += 1
    begin = struct.pack("<I", VERSION) + _with_length(kind) + struct.pack("<II", revision, kept)
    return begin + body.getvalue() + file.read()


def _begin(file: BinaryIO) -> tuple[str, int, int]:
    """The name of the model's kind, its revision, and how many arrays follow."""
    if (version := _number(file, "I")) != VERSION:
        raise ValueError(f"{MODEL_FILE} is of version {version}, not {VERSION}")
    return _name(file), _number(file, "I"), _number(file, "I")


def _array(file: BinaryIO) -> tuple[str, tuple[int, ...], int, int]:
    """Name, shape, kind of number and bytes of the array whose bytes come next."""
    name, dimensions = _name(file), _number(file, "B")
    if dimensions > MOST_DIMENSIONS:
        raise ValueError(f"{MODEL_FILE} has an array of {dimensions} dimensions")
    shape = tuple(_number(file, "I") for _ in range(dimensions))
    return name, shape, _number(file, "B"), _number(file, "I")


def _read(file: BinaryIO, size: int) -> bytes:
    content = file.read(size)
    if len(content) < size:
        raise ValueError(f"{MODEL_FILE} ends too soon")
    return content


def _number(file: BinaryIO, form: str) -> int:
    found: int = struct.unpack(f"<{form}", _read(file, struct.calcsize(f"<{form}")))[0]
    return found


def _name(file: BinaryIO) -> str:
    return _read(file, _number(file, "H")).rstrip(b"\0").decode("latin-1")


def _with_length(name: str) -> bytes:
    content = name.encode("latin-1") + b"\0"
    return struct.pack("<H", len(content)) + content
