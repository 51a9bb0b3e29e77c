"""No voice's phones are told by a layer that has heard its speaker."""

from __future__ import annotations

import pytest

from tests.bench.voices import TUNE, VOICES
from training.layer_files import (
    FOLDS,
    LAYERS,
    ORDERS,
    PACKAGED,
    PEOPLE,
    SPEAKER_OF,
    layer_file,
    layer_without,
    left_out,
)


def test_each_speaker_is_in_one_fold() -> None:
    assert sorted(speaker for fold in FOLDS for speaker in fold) == sorted(set(SPEAKER_OF.values()))


@pytest.mark.parametrize("voice", [one.name for one in VOICES if one.split == TUNE])
def test_a_voice_is_told_by_a_layer_without_its_speaker(voice: str) -> None:
    (name,) = (name for name in LAYERS if SPEAKER_OF[voice] in left_out(name))
    assert layer_without(voice) == layer_file(name, PACKAGED)


def test_peoples_orders_are_told_by_a_layer_that_heard_none_of_them() -> None:
    (name,) = (name for name in LAYERS if ORDERS in left_out(name))
    assert layer_without(PEOPLE) == layer_file(name, PACKAGED)


def test_others_are_told_by_the_layer_that_ships() -> None:
    assert layer_without("prompts") == layer_file("all", PACKAGED)
    assert not left_out("all")
