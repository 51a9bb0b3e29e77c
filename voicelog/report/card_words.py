"""How a card of lines was read, and what became of each, in words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

from voicelog.audio.resampling import RATE
from voicelog.model import SoundLevel
from voicelog.model.soundcheck import SoundProblem
from voicelog.recognition.card_results import CardGrade, CardLineResult
from voicelog.report.soundcheck_words import level_words, problem_words

__all__ = ["card_result_lines", "found_words", "line_words", "not_found_words"]

_NAMES: dict[CardGrade, str] = {
    "sure": "sure",
    "offered": "to check",
    "missed": "missed",
    "wrong": "heard otherwise",
}


def found_words(
    reader: str, found: int, total: int, level: SoundLevel, problems: Sequence[SoundProblem]
) -> str:
    """How many lines were `found`, of how many, and how the microphone sounds. `reader`: empty
    where nobody is named; `problems`: what to change of the sound."""
    who = f"{reader}: " if reader else ""
    said = [f"{who}{found} of {total} lines found. The microphone: {level_words(level)}."]
    return " ".join([*said, *(problem_words(one, rate=RATE) for one in problems)])


def not_found_words(line: str) -> str:
    """That a line was not found."""
    return f"  not found: {line}"


def line_words(number: int, total: int, line: str) -> str:
    """The line to be read now."""
    return f"Read line {number} of {total}: {line}"


def card_result_lines(found: Sequence[CardLineResult]) -> Iterator[str]:
    """How many lines came out how, each that was not sure, and what to do."""
    counts = Counter(one.grade for one in found)
    yield ", ".join(f"{counts[grade]} {name}" for grade, name in _NAMES.items()) + "."
    for one in found:
        if one.grade != "sure":
            otherwise = f", heard as: {one.heard}" if one.heard not in ("", one.line) else ""
            yield f"  {_NAMES[one.grade]}: {one.line}{otherwise}"
    if counts["missed"] or counts["wrong"]:
        yield (
            "Read the card again nearer to the microphone or with another one. What is missed or "
            "heard otherwise again, say more slowly at work, or in other words (voicelog words "
            "list)."
        )
    elif counts["offered"]:
        yield "What is to check is kept, and waits for the evening."
    else:
        yield "Nothing to change."
