"""What became of each line of a card that was read: right, to check, missed, or wrong."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from voicelog.grammar.grammar import Grammar, RecognitionContext
from voicelog.grammar.sample_phrases import meaning
from voicelog.recognition.recognize import Recognizers, recognize_segment
from voicelog.recognition.segmenter import Segment

__all__ = ["CardGrade", "CardLineResult", "card_results"]

CardGrade = Literal["sure", "offered", "missed", "wrong"]


@dataclass(frozen=True, slots=True)
class CardLineResult:
    """A line, and what became of it.

    grade: "sure" and right; "offered", doubtful and the line is among what is offered; "missed",
    not understood or doubtful without it; "wrong", sure of something else.
    heard: the words that stand, "" where it was not understood at all.
    """

    line: str
    grade: CardGrade
    heard: str


def card_results(
    read: Sequence[tuple[str, Segment]],
    recognizers: Recognizers,
    grammar: Grammar,
    recognition_context: RecognitionContext,
) -> tuple[CardLineResult, ...]:
    """What becomes of lines, each with the segment that holds it, as a session would hear them."""
    return tuple(
        _graded(line, segment, recognizers, grammar, recognition_context) for line, segment in read
    )


def _graded(
    line: str,
    segment: Segment,
    recognizers: Recognizers,
    grammar: Grammar,
    recognition_context: RecognitionContext,
) -> CardLineResult:
    found = recognize_segment(segment, recognizers, grammar, recognition_context)
    meant = meaning(grammar.interpret(line) or ())

    def right(said: str) -> bool:
        return meaning(grammar.interpret(said) or ()) == meant

    grade: CardGrade = "missed"
    if found.status == "accepted":
        grade = "sure" if right(found.words) else "wrong"
    elif found.status == "doubtful" and any(map(right, (found.words, *found.alternatives))):
        grade = "offered"
    return CardLineResult(line, grade, "" if found.status == "rejected" else found.words)
