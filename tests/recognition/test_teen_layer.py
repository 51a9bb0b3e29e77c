"""What is asked about a number in -teen or -ty, and what the layer makes of the sound around it."""

from __future__ import annotations

import numpy as np
import pytest

from tests.recognition.speaking import say
from voicelog.recognition.ctc import align_readings
from voicelog.recognition.teen_layer import (
    AFTER,
    BEFORE,
    POINTS,
    NumberPlace,
    TeenPair,
    in_teens,
    number_points,
)
from voicelog.recognition.trained_artifact import shipped_artifact
from voicelog.recognition.whisper import WhisperEncoder
from voicelog.recognition.whisper_model import packaged_whisper_model


@pytest.mark.parametrize(
    ("words", "other", "pair"),
    [
        ("level thirteen came", "level thirty came", ("teen", "ten", 1)),
        ("up to ninety", "up to nineteen", ("ten", "teen", 2)),
        ("level thirteen came", "level thirteen came", None),
        ("level thirteen came", "level forty came", None),
        ("tap sixty", "level sixteen", None),
    ],
)
def test_a_pair_differs_in_nothing_else(
    words: str, other: str, pair: tuple[str, str, int] | None
) -> None:
    found = TeenPair.of(words, other)
    if pair is None:
        assert found is None
        return
    by_kind = dict(zip(pair[:2], (words, other), strict=True))
    assert found == TeenPair(by_kind["teen"], by_kind["ten"], pair[2])


def test_readings_that_differ_so_are_one() -> None:
    assert in_teens("level ninety came") == in_teens("level nineteen came") == "level nineteen came"
    assert in_teens("level nine came") == "level nine came"


def test_the_points_lie_evenly_from_before_the_number_to_behind_it() -> None:
    moments = np.arange(100, dtype=np.float32)[:, None] * np.ones((1, 3), np.float32)
    points = number_points(moments, 40, 60)
    assert points.shape == (POINTS, 3)
    assert points[:, 1] == pytest.approx(np.linspace(40 - BEFORE, 60 + AFTER, POINTS))
    at_the_end = number_points(moments, 90, 99)
    assert at_the_end[-1, 0] == 99.0
    assert number_points(moments, 2, 9)[0, 0] == 0.0


@pytest.mark.parametrize("word", ["thirteen", "thirty"])
def test_it_tells_a_voice_that_it_has_not_heard(word: str) -> None:
    model = packaged_whisper_model()
    assert model is not None
    shipped = shipped_artifact()
    whisper = WhisperEncoder(model, shipped.layer(), shipped.teen_layer())
    whisper.load_segment(say(f"level {word} came", "flite:rms"))
    teen, ten = align_readings(whisper.phones(), ("level thirteen came", "level thirty came"))
    assert teen is not None
    assert ten is not None
    place = NumberPlace(*(teen if word == "thirteen" else ten).word_frames[1], ahead=0.0)
    (odds,) = whisper.teen_odds((place,))
    assert (odds > 0) == (word == "thirteen")
    assert WhisperEncoder(model, shipped.layer()).teen_odds((place,)) == (0.0,)
