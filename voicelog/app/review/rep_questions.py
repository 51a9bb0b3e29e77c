"""The questions about a session's reps, in words, and what an answer does to the log.

An answer is a reading or an addition by a person, with the history and the undo of any other.
What was said at its time stays where it was: a level that cannot be is read anew in its own entry,
and a "no button" that was not of the rep is taken out of the one that said it. All else is a
correction of that rep, added at the end of the session.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from hashlib import sha256

from voicelog.analysis.rep_questions import RepQuestion, rep_questions
from voicelog.grammar.grammar import Grammar, GrammarError
from voicelog.grammar.sound_alikes import sound_alike_readings
from voicelog.model import Entry, Phrase, Rep, Session, Transmitter
from voicelog.model.phrases import EditPhrase, LevelPhrase, ModePhrase, RepPhrase
from voicelog.report.wording.rep_questions import QuestionRow, answers_words, question_words
from voicelog.report.words import at_clock

__all__ = ["NOT_KNOWN", "AskedQuestion", "RepAnswer", "answer_to", "is_not_known", "questions"]

NOT_KNOWN = "not known"
"""The answer of one who does not know how a rep ended, where that was not said: no note."""


@dataclass(frozen=True, slots=True)
class AskedQuestion:
    """A question as a person is asked it.

    `version` tells whether the rep is still as it was seen; `answers` are the words on offer, each
    a note that answers it, or `NOT_KNOWN`; any other note that tells of the rep does too.
    """

    question: RepQuestion
    version: str
    answers: tuple[str, ...]
    until_s: float
    """When its last word ended, s in the recording."""

    @property
    def rep(self) -> int:
        """The rep's number."""
        return self.question.rep

    @property
    def why(self) -> str:
        """Why it is asked, in words."""
        return question_words(self.question.why)

    @property
    def asks(self) -> str:
        """The answers as one question, in words."""
        return answers_words(self.question.why, self.answers)

    @property
    def at(self) -> str:
        """When it began, within a sentence; "" where it has no time."""
        return at_clock(self.question.at_s, self.until_s)

    def row(self, dog: str, began: datetime | None) -> QuestionRow:
        """It in the session of `dog` that `began` then, to be put into words."""
        asked = self.question
        return QuestionRow(dog, began, self.rep, asked.at_s, self.until_s, asked.why, self.answers)


@dataclass(frozen=True, slots=True)
class RepAnswer:
    """What an answer does: the words that an entry (its id) is read as from now on, "" to void it;
    without an entry, the words of a correction to add."""

    words: str
    entry: str | None = None


def questions(
    session: Session, grammar: Grammar, *, typed: bool = False
) -> tuple[AskedQuestion, ...]:
    """The questions of a session that is over, in the order of its reps.

    `grammar` is that of the recording; it gives the words of the answers. What was `typed` is
    offered nothing that only sounds like it.
    """
    reps = {rep.id: rep for rep in session.reps}
    return tuple(
        AskedQuestion(
            question=one,
            version=_version(reps[one.id]),
            answers=_offered(session, reps[one.id], one, grammar, typed=typed),
            until_s=reps[one.id].end_s,
        )
        for one in rep_questions(session)
    )


def answer_to(
    asked: AskedQuestion,
    phrases: Sequence[RepPhrase],
    session: Session,
    entries: Mapping[str, Entry],
    grammar: Grammar,
) -> RepAnswer:
    """What an answer of these phrases does.

    `asked` is the question, `entries` are those of the session, by id. Raises GrammarError where
    the grammar has no words for it.
    """
    rep = next(rep for rep in session.reps if rep.id == asked.question.id)
    told = [entries[name] for name in rep.entries if name in entries]
    match asked.question.why, tuple(phrases):
        case "level", (LevelPhrase() as said,):
            unit = session.dog.transmitter
            for entry in told:
                if any(_beyond(one, unit) for one in entry.phrases):
                    read = [
                        replace(one, level=said.level, words="")
                        if isinstance(one, LevelPhrase) and _beyond(one, unit)
                        else one
                        for one in entry.phrases
                    ]
                    return RepAnswer(grammar.speak(read), entry.id)
        case "button", answer if not any(map(_is_none, answer)):
            for entry in reversed(told):
                kept = [one for one in entry.phrases if not _is_none(one)]
                if len(kept) < len(entry.phrases):
                    return RepAnswer(grammar.speak(kept), entry.id)
        case _:
            pass
    return RepAnswer(grammar.speak([_CORRECTION, *phrases]))


_CORRECTION = EditPhrase(do="correct")


def _offered(
    session: Session, rep: Rep, question: RepQuestion, grammar: Grammar, *, typed: bool
) -> tuple[str, ...]:
    if question.why == "level":
        return () if typed else _levels(session, rep, grammar)
    words: dict[str, None] = {}
    for phrases in question.answers:
        try:
            words[grammar.speak(phrases)] = None
        except GrammarError:
            continue  # another language's grammar may have no word for it: then it is typed
    if question.why == "no outcome":
        words[NOT_KNOWN] = None
    return tuple(filter(None, words))


def is_not_known(asked: AskedQuestion, words: str) -> bool:
    """Whether `words` say that what is `asked` is not known, where that can be an answer."""
    said = " ".join(words.casefold().strip(" .?!").split())
    return NOT_KNOWN in asked.answers and said in (NOT_KNOWN, "unknown")


def _levels(session: Session, rep: Rep, grammar: Grammar) -> tuple[str, ...]:
    """The levels that sound like one that the transmitter cannot give."""
    most = session.dog.transmitter.highest
    found: dict[str, None] = {}
    for mark in rep.levels:
        if mark.level > most:
            words = grammar.speak([LevelPhrase(level=mark.level, do="level")])
            found |= dict.fromkeys(sound_alike_readings(grammar, words, most))
    return tuple(found)


def _beyond(phrase: Phrase, unit: Transmitter) -> bool:
    if not isinstance(phrase, LevelPhrase) or phrase.do == "dial":
        return False
    return not unit.lowest <= phrase.level <= unit.highest


def _is_none(phrase: Phrase) -> bool:
    return isinstance(phrase, ModePhrase) and phrase.do == "none"


def _version(rep: Rep) -> str:
    return sha256(rep.model_dump_json().encode()).hexdigest()[:20]
