"""The questions of sessions in the log, for one who has no page open."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from voicelog.app.grammars import grammar_of
from voicelog.app.review.edit_history import EditRequest
from voicelog.app.review.rep_questions import AskedQuestion, questions
from voicelog.app.review.review_service import ReviewService
from voicelog.app.session_catalog import SessionCatalog
from voicelog.app.session_choice import chosen_sessions
from voicelog.app.typed_lines import TYPED
from voicelog.model import UsageError
from voicelog.report.review_words import DONE
from voicelog.report.wording.rep_questions import QuestionRow

__all__ = ["SessionQuestions", "answer_rep", "session_questions"]


@dataclass(frozen=True, slots=True)
class SessionQuestions:
    """One session with what is asked about it; `key` is its id, `began` None where not known."""

    key: str
    dog: str
    began: datetime | None
    asked: tuple[AskedQuestion, ...]

    @property
    def rows(self) -> tuple[QuestionRow, ...]:
        """The questions, to be put into words."""
        return tuple(one.row(self.dog, self.began) for one in self.asked)


def session_questions(
    catalog: SessionCatalog,
    dog: str | None = None,
    day: date | None = None,
    *,
    every: bool = False,
) -> list[SessionQuestions]:
    """The questions of the sessions that `chosen_sessions` chooses, those without any included.

    Args:
        catalog: that of the log.
        dog: whose; None for every dog.
        day: of which day.
        every: all of them.

    Raises:
        VoicelogError: there is no such session.
    """
    found = []
    for heading in chosen_sessions(catalog, dog, day, every=every):
        page, recording = catalog.page(heading.key), catalog.log.recording(heading.recording)
        assert page is not None  # it was just listed
        assert recording is not None
        asked = questions(
            page.session, grammar_of(recording), typed=recording.listeners == (TYPED,)
        )
        found.append(SessionQuestions(heading.key, page.session.dog.name, page.began, asked))
    return found


def answer_rep(
    catalog: SessionCatalog,
    found: Sequence[SessionQuestions],
    rep: int,
    answer: str,
    who: str,
    now: Callable[[], datetime],
) -> tuple[str, ...]:
    """Answer the question about the rep of that number, and say what changed, a line each.

    Args:
        catalog: that of the log.
        found: the sessions that may be meant, with their questions.
        rep: the rep's number.
        answer: how it was, as a note.
        who: who answers.
        now: the clock.

    Raises:
        UsageError: none of these sessions asks about it, or several do.
        ReviewError: the answer is no note of a rep, or somebody else changed it meanwhile.
    """
    there = [(one, q) for one in found for q in one.asked if q.rep == rep]
    if len(there) != 1:
        what = "No question is" if not there else f"{len(there)} questions are"
        raise UsageError(
            f"{what} open about a rep {rep} in these sessions; see 'voicelog questions', and name "
            "the dog or the day."
        )
    session, asked = there[0]
    deed = EditRequest(do="answer", version=asked.version, rep=asked.question.id, words=answer)
    done = ReviewService(catalog.log, now).do(session.key, deed, who)
    return done.changed or (DONE["answer"],)
