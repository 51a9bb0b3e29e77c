"""What was packed lies where it was packed, though Opus loses some of it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.bench.voices import RATE
from training import packed_speech

TONES = ((440, 0.8, "spoken"), (880, 2.3, "people"), (1760, 1.1, "lines"))
"""Hz, seconds and kind of each utterance."""


def tone(hertz: float, seconds: float) -> NDArray[np.float32]:
    at = np.arange(round(seconds * RATE)) / RATE
    return np.sin(2 * np.pi * hertz * at).astype(np.float32)


def utterances(_: float) -> Iterator[tuple[dict[str, Any], NDArray[np.float32]]]:
    for number, (hertz, seconds, kind) in enumerate(TONES):
        sound = tone(hertz, seconds)
        told = {"kind": kind, "people": ["slt"], "phones": [number], "length": len(sound)}
        yield told, sound


def test_each_utterance_lies_where_it_was_packed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(packed_speech, "packed_folder", lambda: tmp_path)
    monkeypatch.setattr(packed_speech, "_utterances", utterances)
    (tmp_path / "noise.json").write_text('["pink", "wind"]')
    packed_speech._write("noise", [0.2 * tone(100, 1), 0.5 * tone(200, 1)])
    np.savez(tmp_path / "model.npz", mel=np.ones(3))
    packed_speech.pack()
    found = packed_speech.packed_speech()
    assert [one.kind for one in found.utterances] == [kind for *_, kind in TONES]
    for one, (hertz, seconds, _) in zip(found.utterances, TONES, strict=True):
        assert one.length == round(seconds * RATE)
        sound = found.sound[one.start : one.start + one.length].astype(np.float64)
        loudest = np.abs(np.fft.rfft(sound)).argmax() * RATE / len(sound)
        assert loudest == pytest.approx(hertz, abs=2)
        assert np.abs(sound).max() / 32768 == pytest.approx(packed_speech.PEAK, rel=0.2)
    for bed in found.beds.values():
        assert np.mean(np.square(bed)) == pytest.approx(1, rel=0.05)
    assert found.model["mel"].tolist() == [1, 1, 1]
