"""A layer for a Whisper model of the user's own: what is refused, and that what is made listens."""

from __future__ import annotations

import os
import tomllib
from collections import Counter
from importlib.util import find_spec
from pathlib import Path

import numpy as np
import pytest

from tests.bench.recognition import Tally
from tests.recognition.whisper_files import whisper_folder
from voicelog.audio.resampling import RATE
from voicelog.recognition.careful_recognizer import CarefulProcess
from voicelog.recognition.listener_hashes import listener_hashes
from voicelog.recognition.phone_posteriors import PHONE_INDEX
from voicelog.recognition.recognizers import careful_model
from voicelog.recognition.vosk_models import ModelError
from voicelog.recognition.whisper_model import OWN_CARD, OWN_LAYER, check_own_whisper_model

if find_spec("faster_whisper") is None or find_spec("soundfile") is None:
    pytest.skip("needs the extras careful and bench", allow_module_level=True)

from tests.recognition.small_whisper import LAYERS, WIDTH, small_whisper
from training.own_model import OwnModelError, better, look, put


@pytest.fixture(autouse=True)
def much_memory(monkeypatch: pytest.MonkeyPatch) -> None:
    """As on a machine on which nothing else runs."""
    asked = os.sysconf
    monkeypatch.setattr(
        os, "sysconf", lambda name: 1 << 30 if name == "SC_AVPHYS_PAGES" else asked(name)
    )


@pytest.fixture
def small(tmp_path: Path) -> Path:
    return small_whisper(tmp_path / "whisper-small")


@pytest.fixture
def layer(tmp_path: Path) -> Path:
    """A layer with random weights for that model."""
    rng = np.random.default_rng(1)
    path = tmp_path / "layer.npz"
    np.savez(
        path,
        **{
            "begin": rng.normal(0, 0.1, (WIDTH, 8)).astype(np.float16),
            "begin bias": np.zeros(8, np.float16),
            "block 0/beside": rng.normal(0, 0.5, (3, 8)).astype(np.float16),
            "block 0/gain": np.ones(8, np.float16),
            "block 0/shift": np.zeros(8, np.float16),
            "block 0/up": rng.normal(0, 0.3, (8, 12)).astype(np.float16),
            "block 0/up bias": np.zeros(12, np.float16),
            "block 0/down": rng.normal(0, 0.3, (12, 8)).astype(np.float16),
            "block 0/down bias": np.zeros(8, np.float16),
            "end": rng.normal(0, 1, (8, 1 + len(PHONE_INDEX))).astype(np.float16),
            "end bias": np.zeros(1 + len(PHONE_INDEX), np.float16),
        },  # type: ignore[arg-type]
    )
    return path


# --- looked at ----------------------------------------------------------------------------


def test_the_dimensions_come_from_the_model(small: Path) -> None:
    (small / "LICENSE.txt").write_text("free", "utf-8")
    found = look(small)
    assert (found.width, found.layers, found.model.name) == (WIDTH, LAYERS, "whisper-small")
    assert found.size == (small / "model.bin").stat().st_size
    assert found.licence_files == ("LICENSE.txt",)


def test_why_there_is_no_layer_is_said_in_one_sentence(small: Path, tmp_path: Path) -> None:
    def why(folder: Path, free: int | None = None) -> str:
        with pytest.raises((ModelError, OwnModelError)) as raised:
            look(folder, free=free)
        return str(raised.value)

    assert why(tmp_path / "none").startswith(f"Found no folder '{tmp_path / 'none'}', wanted one")
    (tmp_path / "vosk" / "am").mkdir(parents=True)
    assert why(tmp_path / "vosk").endswith("put it in place with: voicelog listeners install.")
    (tmp_path / "torch").mkdir()
    (tmp_path / "torch" / "base.en.pt").write_bytes(b"weights")
    assert why(tmp_path / "torch") == (
        f"Found base.en.pt but no model.bin in '{tmp_path / 'torch'}', wanted a Whisper model as "
        "faster-whisper reads it; convert it with ct2-transformers-converter."
    )
    assert "cannot be loaded" in why(whisper_folder(tmp_path / "broken"))
    assert why(small, free=2_000_000) == (
        "Found 0.0 GB of memory free, wanted 0.0 GB for 'whisper-small'; take a smaller model, or "
        "close other programs."
    )
    assert "wanted 0.5 GB for" in why(small, free=100_000_000)  # to train with all speech
    assert look(small, 0.02, 100_000_000).width == WIDTH
    (small / "vocabulary.json").unlink()
    assert why(small) == (
        f"Found no vocabulary.json or vocabulary.txt in '{small}', wanted a whole Whisper model; "
        "get it again."
    )
    (small / "tokenizer.json").unlink()
    assert why(small).startswith("Found no tokenizer.json")


# --- put in place -------------------------------------------------------------------------


def test_a_model_with_its_layer_listens_by_the_variable(
    small: Path, layer: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = put(look(small).model, layer, {"seed": 3})
    card = tomllib.loads((small / OWN_CARD).read_text("utf-8"))
    assert card["seed"] == 3
    assert {"model.bin", "vocabulary.json", "tokenizer.json", OWN_LAYER} <= set(card["sha256"])
    monkeypatch.setenv("VOICELOG_WHISPER", str(small))
    assert careful_model("en") == made
    assert careful_model("ko") is None
    assert "whisper whisper-small" in listener_hashes("en", "careful")
    listener = CarefulProcess(made)
    try:
        assert listener.name.startswith(
            f"whisper whisper-small, own phones {card['sha256'][OWN_LAYER][:8]} (ctranslate2 "
        )
        listener.load_segment(np.zeros(RATE, np.float32))
        told = listener.phones()
    finally:
        listener.close()
    assert told.shape == (51, 1 + len(PHONE_INDEX))
    assert np.exp(told).sum(axis=1) == pytest.approx(1.0, abs=1e-4)


@pytest.mark.parametrize("name", ["model.bin", OWN_LAYER])
def test_a_file_that_is_not_as_the_card_says_is_refused(
    small: Path, layer: Path, name: str
) -> None:
    made = put(look(small).model, layer, {})
    with (small / name).open("ab") as file:
        file.write(b"more")
    with pytest.raises(ModelError, match=rf"^Found another {name} in "):
        CarefulProcess(made)
    (small / name).unlink()
    with pytest.raises(ModelError, match=rf"^Found no {name} in "):
        check_own_whisper_model(small)


@pytest.mark.parametrize(
    ("card", "why"),
    [
        (None, "No such file"),
        ("sha256 = 3", "has no attribute"),
        ('[sha256]\n"model.bin" = "0"', f"it does not name {OWN_LAYER}"),
        ('[sha256]\n"../model.bin" = "0"', "it names files elsewhere"),
        ("no toml", "Expected"),
    ],
)
def test_a_folder_without_a_card_that_can_be_read_is_refused(
    small: Path, card: str | None, why: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    if card is not None:
        (small / OWN_CARD).write_text(card, "utf-8")
    monkeypatch.setenv("VOICELOG_WHISPER", str(small))
    with pytest.raises(ModelError) as raised:
        careful_model("en")
    told = str(raised.value)
    assert told.startswith(f"Found no {OWN_CARD} in '{small}' that can be read (")
    assert why in told
    assert told.endswith(f"make one: python -m training.own_model '{small}'.")


# --- only where it is nowhere worse ---------------------------------------------------------


def tally(right: int, offered: int, wrong: int) -> Tally:
    return Tally(said=Counter(right=right, offered=offered), entries=Counter(wrong=wrong))


def test_a_layer_is_put_in_place_only_where_it_hears_no_worse() -> None:
    old = tally(90, 8, 1)
    assert better(tally(90, 8, 1), old) == ""
    assert better(tally(95, 3, 0), old) == ""
    assert better(tally(95, 4, 2), old).startswith("2 wrong notes that were sure, 1 with")
    assert better(tally(89, 9, 0), old).startswith("89 notes sure and right, 90 with")
    assert better(tally(90, 7, 1), old).startswith("97 notes right or offered, 98 with")
