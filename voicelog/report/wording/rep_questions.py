"""Words of the questions about reps: on the page, in the terminal, in the ear."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import NamedTuple

from voicelog.analysis.rep_questions import QuestionReason, RepQuestion
from voicelog.model.phrases import LevelPhrase, ModePhrase, OutcomePhrase, RepPhrase
from voicelog.report.spoken_wording import MAX_SPOKEN_WORDS
from voicelog.report.words import at_clock, clean, counted, day

__all__ = [
    "QuestionRow",
    "answers_words",
    "question_words",
    "questions_text",
    "spoken_rep_question",
]

_WHY: Mapping[QuestionReason, str] = {
    "no outcome": "how it ended was not said",
    "outcomes": "two outcomes were said",
    "late": "the last word came more than a minute after the one before",
    "two reps": "'no button' may be of this rep or of the one beside it",
    "missed": "something in it was not understood",
    "button": "a press was said, and 'no button' too",
    "level": "the level is beyond the transmitter",
}
NO_QUESTIONS = "No rep of these sessions has a question; --all asks about every session."
_NO_DAY = "day not known"
_HOW = (
    "Answer with 'voicelog questions' and --rep N --answer WORDS, or on the page: 'voicelog "
    "review'."
)
_NEXT: Mapping[QuestionReason, str] = {"level": "Which level was it?"}


class QuestionRow(NamedTuple):
    """A question with the session that it is of: the dog, when the session began (None: not
    known), the rep's number, when it began and ended (s in the recording), why, and the answers on
    offer, in words."""

    dog: str
    began: datetime | None
    rep: int
    at_s: float
    until_s: float
    why: QuestionReason
    answers: tuple[str, ...]


def questions_text(rows: Sequence[QuestionRow]) -> str:
    """The questions as plain text, each session under a heading of its own. `rows` are in the
    order of their sessions."""
    lines: list[str] = []
    heading = ""
    for row in rows:
        own = f"{clean(row.dog) or 'no dog named'}, {day(row.began) if row.began else _NO_DAY}"
        if own != heading:
            lines += [*([""] if lines else []), own]
            heading = own
        asks = answers_words(row.why, row.answers)
        lines += [
            f"  Rep {row.rep}{at_clock(row.at_s, row.until_s)}: {question_words(row.why)}.",
            f"    {asks}",
        ]
    if not lines:
        return NO_QUESTIONS
    return "\n".join([*lines, "", _HOW])


def question_words(why: QuestionReason) -> str:
    """Why a rep is asked about, in words. `why` is the code."""
    return _WHY[why]


def answers_words(why: QuestionReason, answers: Sequence[str]) -> str:
    """The answers on offer as one question, in words: "came, ignored, line help?\""""
    offered = ", ".join(map(clean, answers))
    return f"{offered}?" if offered else _NEXT.get(why, "What was it?")


def spoken_rep_question(asked: Sequence[RepQuestion]) -> str:
    """What is said of the questions when a session has ended, in six words at most. `asked` are all
    of them, one or more."""
    if len(asked) > 1:
        return f"{counted(len(asked), 'rep')} to answer tonight"
    (one,) = asked
    answers = [_short(phrases) for phrases in one.answers]
    while answers and len(" ".join(answers).split()) > MAX_SPOKEN_WORDS - 2:
        answers.pop()
    if not answers:
        return f"Rep {one.rep} to answer tonight"
    return f"Rep {one.rep}: {', '.join(answers)}?"


def _short(phrases: Sequence[RepPhrase]) -> str:
    """An answer in the words of the field."""
    return " ".join(filter(None, map(_short_phrase, phrases)))


def _short_phrase(phrase: RepPhrase) -> str:
    match phrase:
        case OutcomePhrase():
            how = {"slow": " slow", "partial": " partway"}.get(phrase.outcome, "")
            return f"{phrase.word or phrase.outcome}{how}"
        case LevelPhrase():
            return f"{'tap' if phrase.mode == 'momentary' else 'level'} {phrase.level}"
        case ModePhrase():
            return "no button" if phrase.do == "none" else phrase.do
        case _:
            return ""
