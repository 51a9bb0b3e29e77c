"""Look through a CTranslate2 weights file (model.bin) without loading it.

The engine itself reports a damaged file late, or with words that help nobody. The file is
little-endian: a format version, the kind of model, its revision, the variables (name,
shape, type, bytes), then second names of variables. Walking over it, skipping the bytes,
takes a millisecond and tells whether it is all there.
"""

from __future__ import annotations

import struct
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

__all__ = ["DamagedWeightsError", "Weights", "read_weights"]

_MOST = 100_000
"""More variables than any speech model has; a larger count is not one."""


class DamagedWeightsError(Exception):
    """What is wrong with the file, as the end of a sentence: "it ends too soon"."""


@dataclass(frozen=True, slots=True)
class Weights:
    """The kind of model ("WhisperSpec") and the shape of each variable."""

    kind: str
    shapes: Mapping[str, tuple[int, ...]]


def read_weights(path: Path) -> Weights:
    """What the file holds. Raises DamagedWeightsError unless it is whole."""
    try:
        with path.open("rb") as file:
            return _read(file, path.stat().st_size)
    except (struct.error, IndexError) as problem:
        raise DamagedWeightsError("it ends too soon") from problem
    except UnicodeDecodeError as problem:
        raise DamagedWeightsError("it is no CTranslate2 model") from problem
    except OSError as problem:
        raise DamagedWeightsError(problem.strerror or str(problem)) from problem


def _read(file: BinaryIO, size: int) -> Weights:
    version = _number(file, "<I")
    if not 2 <= version < 256:
        raise DamagedWeightsError("it is no CTranslate2 model")
    kind = _text(file)
    _number(file, "<I")  # the revision of that kind
    shapes: dict[str, tuple[int, ...]] = {}
    for _ in range(_count(file)):
        name = _text(file)
        rank = _number(file, "<B")
        shapes[name] = struct.unpack(f"<{rank}I", file.read(4 * rank))
        _number(file, "<B")  # the type
        end = _number(file, "<I") + file.tell()
        if end > size:
            raise DamagedWeightsError("it ends too soon")
        file.seek(end)
    for _ in range(_count(file)):
        _text(file)  # the second name
        _text(file)  # whose it is
    if file.tell() != size:
        raise DamagedWeightsError("more follows where it should end")
    return Weights(kind, shapes)


def _number(file: BinaryIO, form: str) -> int:
    (number,) = struct.unpack(form, file.read(struct.calcsize(form)))
    return int(number)


def _count(file: BinaryIO) -> int:
    count = _number(file, "<I")
    if count > _MOST:
        raise DamagedWeightsError("it is no CTranslate2 model")
    return count


def _text(file: BinaryIO) -> str:
    length = _number(file, "<H")
    raw = file.read(length)
    if len(raw) < length:
        raise DamagedWeightsError("it ends too soon")
    return raw.rstrip(b"\0").decode()
