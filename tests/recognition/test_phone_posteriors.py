"""The packaged layer that tells phones, and what it tells of speech that it did not learn from.

The voices of the demo recordings and flite's rms are none of those that it was trained on.
"""

from __future__ import annotations

from importlib.util import find_spec
from typing import TYPE_CHECKING

import numpy as np
import pytest
from rapidfuzz.distance import Levenshtein

from tests.recognition.speaking import hiss, say
from voicelog.grammar.grammar import Grammar, RecognitionContext
from voicelog.grammar.pronunciation import PHONES, shipped_pronouncer
from voicelog.model import Dog, Roster
from voicelog.recognition.ctc import best_path
from voicelog.recognition.phone_posteriors import (
    BLANK,
    PHONE_INDEX,
    PhoneLayer,
    Posteriors,
)
from voicelog.recognition.trained_artifact import shipped_artifact
from voicelog.recognition.whisper_model import packaged_whisper_model

if TYPE_CHECKING:
    from pathlib import Path

    from voicelog.recognition.whisper import WhisperEncoder

GRAMMAR = Grammar.load(roster=Roster(dogs=(Dog(name="Bracken"), Dog(name="Wren"))))
TO_20 = RecognitionContext(top_level=20)
NAMES = {place: phone for phone, place in PHONE_INDEX.items()}


@pytest.fixture(scope="module")
def whisper() -> WhisperEncoder:
    model = packaged_whisper_model() if find_spec("faster_whisper") else None
    if model is None:
        pytest.skip("the extra is not installed; pip install 'voicelog[careful]'")
    from voicelog.recognition.whisper import WhisperEncoder

    return WhisperEncoder(model, shipped_artifact().layer())


def likeliest(heard: Posteriors) -> list[str]:
    """The phones of each frame's likeliest label, repeats and blanks left out."""
    places = heard.argmax(axis=1)
    changed = np.append(True, places[1:] != places[:-1])
    return [NAMES[int(place)] for place in places[changed] if place != BLANK]


def test_a_row_has_every_phone_once_and_is_a_distribution() -> None:
    assert set(PHONE_INDEX) == PHONES
    assert sorted(PHONE_INDEX.values()) == list(range(1, len(PHONES) + 1))
    layer = shipped_artifact().layer()
    rng = np.random.default_rng(1)
    heard = layer(rng.standard_normal((7, layer.width)).astype(np.float32))
    assert heard.shape == (7, 1 + len(PHONES))
    assert heard.dtype == np.float32
    assert np.exp(heard.astype(np.float64)).sum(axis=1) == pytest.approx(np.ones(7), abs=1e-5)


def test_a_frame_is_told_by_those_beside_it_and_no_others() -> None:
    layer = shipped_artifact().layer()
    rng = np.random.default_rng(2)
    frames = rng.standard_normal((60, layer.width)).astype(np.float32)
    changed = frames.copy()
    changed[30] += 5.0
    differs = np.flatnonzero(np.abs(layer(frames) - layer(changed)).max(axis=1) > 1e-6)
    # Three blocks, each of which sees five frames on either side.
    assert differs.tolist() == list(range(15, 46))


def test_weights_from_another_file_are_those_of_that_file(tmp_path: Path) -> None:
    zeros = {
        "begin": np.zeros((3, 2)),
        "begin bias": np.zeros(2),
        "end": np.zeros((2, 1 + len(PHONES))),
        "end bias": np.log(np.arange(1.0, 2.0 + len(PHONES))),
    }
    np.savez(tmp_path / "layer.npz", **zeros)
    heard = PhoneLayer(tmp_path / "layer.npz")(np.ones((2, 3), np.float32))
    shares = np.arange(1, 2 + len(PHONES)) / np.arange(1, 2 + len(PHONES)).sum()
    assert np.exp(heard) == pytest.approx(np.array([shares, shares]), rel=1e-5)


SAID = (
    "level three came neck twitch",
    "tap seven ignored",
    "no button came praised",
    "skin clear",
    "up to twelve line help",
)


@pytest.mark.parametrize("noisy", [False, True])
def test_notes_of_a_voice_that_it_does_not_know_are_found(
    whisper: WhisperEncoder, noisy: bool
) -> None:
    right = 0
    for seed, words in enumerate(SAID):
        sound = say(words, "flite:rms")
        if noisy:  # white, some 20 dB under the voice
            sound = sound + hiss(len(sound) / 16_000, rms=0.01, seed=seed)
        whisper.load_segment(sound)
        heard = whisper.phones()
        assert len(heard) == pytest.approx(len(sound) / 320, abs=1)
        way = best_path(heard, GRAMMAR, TO_20)
        right += way is not None and way.words == words
    assert right >= len(SAID) - 1


def test_its_likeliest_phones_are_nearly_those_that_were_said(whisper: WhisperEncoder) -> None:
    edits = total = 0
    for words in SAID:
        whisper.load_segment(say(words, "flite:rms"))
        heard = whisper.phones()
        said = list(shipped_pronouncer().phrase(words)[0])
        edits += Levenshtein.distance(likeliest(heard), said)
        total += len(said)
    assert edits / total < 0.25


def test_two_ways_of_one_segment_are_told_as_their_mean(whisper: WhisperEncoder) -> None:
    sound = say(SAID[0], "flite:rms")
    other = sound + hiss(len(sound) / 16_000, rms=0.02)
    told = []
    for ways in ((sound,), (other,), (sound, other)):
        whisper.load_segment(*ways)
        heard = whisper.phones()
        told.append(np.exp(heard.astype(np.float64)))
    mean = np.sqrt(told[0] * told[1])
    assert told[2] == pytest.approx(mean / mean.sum(axis=1, keepdims=True), abs=1e-4)
