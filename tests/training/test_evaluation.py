"""Nobody is judged by a fit on the same speaker, and talk is in every fold."""

from __future__ import annotations

from training.candidates import Observation
from training.evaluation import folds
from training.layer_files import FOLDS, SPEAKER_OF


def heard(voice: str, condition: str) -> Observation:
    return Observation(voice, condition, 30.0, None, ())


def test_a_voice_is_in_the_fold_of_its_speaker() -> None:
    some = [heard(voice, condition) for voice in SPEAKER_OF for condition in ("clean", "pink10")]
    for one, fold in zip(some, folds(some), strict=True):
        assert SPEAKER_OF[one.voice] in FOLDS[fold]


def test_people_are_dealt_out_in_runs() -> None:
    placed = folds([heard("game", "human")] * 10)
    assert placed == sorted(placed)
    assert set(placed) == set(range(len(FOLDS)))
