"""What training writes, the program loads."""

from __future__ import annotations

import tomllib
from pathlib import Path

from training.artifact import read_card, toml, write_artifact
from voicelog.recognition.trained_artifact import load_artifact, shipped_artifact


def test_a_card_is_written_as_it_is_read() -> None:
    card = {
        "version": 1,
        "text": 'a "quoted" word, an ä',
        "part": {"share": 0.25, "list": [1, 2], "pink 20 dB": {"right": 3}},
    }
    assert tomllib.loads(toml(card)) == card


def test_what_is_written_is_loaded(tmp_path: Path) -> None:
    shipped = shipped_artifact()
    write_artifact(
        tmp_path,
        shipped.version + 1,
        shipped.layer_file,
        shipped.teen_layer_file,
        shipped.fusion,
        about_layer={"version": 7, "figures": {"right": 5}},
        about_teens={"seed": 2},
        about_fusion={"seed": 1},
    )
    found = load_artifact(tmp_path)
    assert (found.version, found.layer_version) == (shipped.version + 1, 7)
    assert found.fusion == shipped.fusion
    assert read_card(tmp_path)["layer"]["figures"] == {"right": 5}
