"""What became of the lines of a card: told with listeners that know what they will hear."""

from __future__ import annotations

import numpy as np
import pytest

from tests.recognition.listening import Knowing, Stopped
from tests.recognition.speaking import burst
from voicelog.audio.resampling import Samples
from voicelog.grammar.grammar import Grammar, RecognitionContext
from voicelog.model import Dog, Roster
from voicelog.recognition.card_results import CardLineResult, card_results
from voicelog.recognition.careful_recognizer import ALONE
from voicelog.recognition.quick_recognizer import (
    NO_HYPOTHESIS,
    AcceptanceThresholds,
    Hypothesis,
    QuickRecognizer,
    Spectrum,
)
from voicelog.recognition.recognize import Recognizers
from voicelog.recognition.segmenter import Segment
from voicelog.recognition.voice_activity import FRAME

GRAMMAR = Grammar.load(roster=Roster(dogs=(Dog(name="Bracken"),)))
TO_20 = RecognitionContext(top_level=20)
SOUND = burst(1.6)[: 50 * FRAME]
SEGMENT = Segment(0, len(SOUND), SOUND, None, np.ones(50, np.bool_))
LINE = "level three came"


class Sure:
    """A listener that hears one thing in everything, and tells how surely."""

    name = "sure 1"
    thresholds = AcceptanceThresholds(
        accept=0.8, offer=0.3, accept_single_word=0.8, accept_sound_alike=0.9
    )

    def __init__(self, words: str, confidence: float, *others: str) -> None:
        self.heard = Hypothesis(words, True, None, confidence, others=others)

    def hear(self, sound: Samples, noise: Spectrum | None = None) -> Hypothesis:
        return self.heard


def one(quick: QuickRecognizer) -> CardLineResult:
    (found,) = card_results([(LINE, SEGMENT)], Recognizers(quick), GRAMMAR, TO_20)
    return found


@pytest.mark.parametrize(
    ("quick", "grade", "heard"),
    [
        (Sure(LINE, 0.9), "sure", LINE),
        (Sure(LINE, 0.5), "offered", LINE),
        (Sure("level nine came", 0.5, LINE), "offered", "level nine came"),
        (Sure("level nine came", 0.5), "missed", "level nine came"),
        (Sure(LINE, 0.1), "missed", ""),
        (Sure("level nine came", 0.95), "wrong", "level nine came"),
    ],
)
def test_a_line_is_graded_by_what_stands_of_it(quick: Sure, grade: str, heard: str) -> None:
    assert one(quick) == CardLineResult(LINE, grade, heard)  # type: ignore[arg-type]


def test_what_is_not_heard_at_all_is_missed() -> None:
    assert one(Knowing(NO_HYPOTHESIS)) == CardLineResult(LINE, "missed", "")


def test_once_the_careful_one_has_stopped_the_lines_are_heard_by_the_quick_one() -> None:
    recognizers = Recognizers(Sure(LINE, 0.9), Stopped(LINE))
    (found,) = card_results([(LINE, SEGMENT)], recognizers, GRAMMAR, TO_20)
    assert found.grade == "sure"
    assert recognizers.note is not None
    assert recognizers.note.endswith(ALONE)
