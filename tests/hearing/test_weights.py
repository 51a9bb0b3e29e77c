"""A weights file is looked through without loading it, and a damaged one is told."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.hearing.whisper_files import weights_file
from voicelog.hearing.weights import DamagedWeightsError, read_weights

WHOLE = weights_file(tokens=40)


def test_kind_and_shapes_are_read(tmp_path: Path) -> None:
    path = tmp_path / "model.bin"
    path.write_bytes(WHOLE)
    weights = read_weights(path)
    assert weights.kind == "WhisperSpec"
    assert weights.shapes == {"decoder/embeddings/weight": (40, 1)}


@given(length=st.integers(0, len(WHOLE) - 1))
def test_a_file_cut_anywhere_is_damaged(
    tmp_path_factory: pytest.TempPathFactory, length: int
) -> None:
    path = tmp_path_factory.getbasetemp() / "cut.bin"
    path.write_bytes(WHOLE[:length])
    with pytest.raises(DamagedWeightsError):
        read_weights(path)


@given(noise=st.binary(max_size=300))
def test_other_bytes_are_no_model(tmp_path_factory: pytest.TempPathFactory, noise: bytes) -> None:
    path = tmp_path_factory.getbasetemp() / "noise.bin"
    path.write_bytes(noise)
    with pytest.raises(DamagedWeightsError):
        read_weights(path)


@pytest.mark.parametrize(
    ("raw", "why"),
    [
        (b"<!DOCTYPE html><html>not found</html>", "it is no CTranslate2 model"),
        (WHOLE[:-1], "it ends too soon"),
        (WHOLE + b"x", "more follows where it should end"),
        (b"", "it ends too soon"),
    ],
)
def test_what_is_wrong_is_said(tmp_path: Path, raw: bytes, why: str) -> None:
    path = tmp_path / "model.bin"
    path.write_bytes(raw)
    with pytest.raises(DamagedWeightsError) as raised:
        read_weights(path)
    assert str(raised.value) == why
