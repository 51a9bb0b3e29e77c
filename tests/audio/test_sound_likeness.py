"""The same sound is known in any format, and other sound of the same voice is not taken for it."""

from __future__ import annotations

from itertools import combinations
from pathlib import Path

import numpy as np
import pytest

from tests.audio.making import Sound, encode, noise, tone
from voicelog.audio.files import AudioReader
from voicelog.audio.sound_likeness import likeness, sound_outline
from voicelog.grammar.data_folders import data_folder

DEMO = sorted(data_folder("demo_audio").glob("*/*.opus"))


@pytest.fixture(scope="module")
def speech() -> Sound:
    """Forty seconds of the demo's speech."""
    with AudioReader(DEMO[0]) as reader:
        blocks = [block for block, _ in zip(reader, range(2000), strict=False)]
    return np.concatenate(blocks)[: 40 * 16_000]


@pytest.mark.parametrize(
    ("name", "codec"),
    [("a.mp3", "libmp3lame"), ("a.opus", "libopus"), ("a.m4a", "aac"), ("a.flac", "flac")],
)
def test_another_format_is_the_same_sound(
    tmp_path: Path, speech: Sound, name: str, codec: str
) -> None:
    plain = sound_outline(encode(tmp_path / "a.wav", speech, 16_000, "pcm_s16le"))
    other = sound_outline(encode(tmp_path / name, speech * 0.3, 16_000, codec))
    assert likeness(plain, other) > 0.99


def test_a_shift_matters_little_and_a_part_cut_off_much(tmp_path: Path, speech: Sound) -> None:
    def of(sound: Sound) -> np.ndarray:
        return sound_outline(encode(tmp_path / "b.wav", sound, 16_000, "pcm_s16le"))

    whole = of(speech)
    assert likeness(whole, of(speech[800:])) > 0.8
    assert likeness(whole, of(speech[8000:])) > 0.99
    assert likeness(whole, of(speech[80_000:])) < 0.3
    assert likeness(whole, of(speech[: 3 * 16_000])) == 0.0


def test_other_recordings_of_the_same_voices_are_not_alike() -> None:
    outlines = [sound_outline(path)[:600] for path in DEMO[:3]]
    assert max(likeness(a, b) for a, b in combinations(outlines, 2)) < 0.3


def test_silence_is_like_nothing(tmp_path: Path) -> None:
    silent = sound_outline(encode(tmp_path / "s.wav", noise(10, 0.0), 16_000, "pcm_s16le"))
    hiss = sound_outline(encode(tmp_path / "n.wav", noise(10, 0.1), 16_000, "pcm_s16le"))
    steady = sound_outline(encode(tmp_path / "t.wav", tone(800, 10), 16_000, "pcm_s16le"))
    assert likeness(silent, silent) == 0.0
    assert likeness(steady, steady) == 0.0
    assert likeness(silent, hiss) == 0.0
