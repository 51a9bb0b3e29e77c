"""A Whisper model cut to its encoder puts out what the whole one does.

The whole model is loaded and run by CTranslate2, which made the form of the file.
"""

from __future__ import annotations

from contextlib import suppress
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from tests.recognition.small_whisper import small_whisper
from voicelog.recognition.encoder_file import encoder_arrays, encoder_files
from voicelog.recognition.whisper_model import packaged_whisper_model

ctranslate2 = pytest.importorskip("ctranslate2", reason="needs the extra 'careful'")

MATRIX = "layer_1/ffn/linear_0/weight"


def encoded(folder: Path, files: dict[str, bytes] | None = None) -> NDArray[np.float32]:
    """What an encoder makes of two seconds of noise, the folder's or the files'."""
    sound = np.random.default_rng(2).normal(0, 0.5, (1, 80, 200)).astype(np.float32)
    model = ctranslate2.models.Whisper(str(folder), compute_type="float32", files=files)
    found = model.encode(ctranslate2.StorageView.from_array(sound))
    return np.array(found, np.float32)


def test_the_packaged_model_cut_puts_out_the_same() -> None:
    model = packaged_whisper_model()
    if model is None:
        pytest.skip("the extra is not installed; pip install 'voicelog[careful]'")
    cut = encoder_files(model.folder)
    assert np.array_equal(encoded(model.folder, cut), encoded(model.folder))
    # A third of the file: the encoder's 16 MB, and a layer of the decoder.
    assert len(cut["model.bin"]) < 0.3 * (model.folder / "model.bin").stat().st_size


@pytest.mark.parametrize("half", [True, False])
def test_a_model_of_either_kind_of_number_is_cut(tmp_path: Path, half: bool) -> None:
    plain = small_whisper(tmp_path / "plain", half=half)
    assert np.array_equal(encoded(plain, encoder_files(plain)), encoded(plain))


def test_the_arrays_of_the_encoder_are_those_of_the_file(tmp_path: Path) -> None:
    added = np.zeros((256, 64), np.float32)
    added[3, 5] = 100
    plain = encoder_arrays(small_whisper(tmp_path / "plain", half=True))
    other = encoder_arrays(small_whisper(tmp_path / "other", half=True, added={MATRIX: added}))
    assert plain["conv1/weight"].shape == (64, 80, 3)
    assert not any(name.startswith(("decoder", "encoder")) for name in plain)
    differ = {name for name in plain if not np.array_equal(plain[name], other[name])}
    assert differ == {MATRIX}
    assert np.argwhere(plain[MATRIX] != other[MATRIX]).tolist() == [[3, 5]]


@cache
def small_model() -> bytes:
    with TemporaryDirectory() as folder:
        return (small_whisper(Path(folder), half=True) / "model.bin").read_bytes()


@given(data=st.data())
def test_a_file_that_was_cut_off_or_changed_is_refused_or_read(data: st.DataObject) -> None:
    whole = small_model()
    end = data.draw(st.integers(0, 4000) | st.integers(0, len(whole)))
    content = bytearray(whole[:end])
    for place in data.draw(st.lists(st.integers(0, 4000), max_size=3)):
        if place < end:
            content[place] = data.draw(st.integers(0, 255))
    with TemporaryDirectory() as folder:
        (Path(folder) / "model.bin").write_bytes(content)
        with suppress(ValueError):  # and nothing else
            encoder_files(Path(folder))
