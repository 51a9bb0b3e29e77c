"""An answer to a question about a rep: kept like any correction, told, and taken back."""

from __future__ import annotations

import pytest

from tests.app.review.test_review_service import Evening
from tests.known import known
from tests.web.evening import keep
from voicelog.app.review.errors import EditConflictError, NotANoteError, NotFoundError
from voicelog.app.review.rep_questions import AskedQuestion
from voicelog.app.review.review_service import EditResult, ReviewService
from voicelog.model import Rep
from voicelog.store import Log

HALF = ("start session bracken", "here", "level three", "end session")


class Desk(Evening):
    """A session with questions, and their answers."""

    @property
    def asked(self) -> tuple[AskedQuestion, ...]:
        return self.view().questions

    def reps(self) -> tuple[Rep, ...]:
        return tuple(known(self.view().session).reps)

    def answer(self, words: str, place: int = 0) -> EditResult:
        asked = self.asked[place]
        return self.do("answer", rep=asked.question.id, version=asked.version, words=words)


def desk(service: ReviewService, log: Log, *lines: str) -> Desk:
    return Desk(service, keep(log, lines))


def test_an_outcome_that_was_not_said_is_answered_after_the_session_and_undone(
    service: ReviewService, log: Log
) -> None:
    evening = desk(service, log, *HALF)
    assert [(one.rep, one.why, one.asks) for one in evening.asked] == [
        (1, "how it ended was not said", "came, ignored, line help, not known?")
    ]
    done = evening.answer("line help")
    (rep,) = evening.reps()
    assert (rep.outcome, rep.doubtful, rep.latency_s, evening.asked) == ("helped", False, None, ())
    assert any("line help" in line for line in done.changed)
    (added,) = [row for row in evening.view().rows if row.entry.by == "person"]
    assert (added.entry.reading, added.entry.who) == ("correction line help", "Anna")
    evening.undo()
    assert [one.why for one in evening.asked] == ["how it ended was not said"]
    evening.redo()
    assert evening.reps()[0].outcome == "helped"


@pytest.mark.parametrize("answer", ["not known", "Not known.", "unknown"])
def test_who_does_not_know_how_a_rep_ended_need_not_invent_it(
    service: ReviewService, log: Log, answer: str
) -> None:
    evening = desk(service, log, "start session bracken", "here", "level three", "ear flick",
                   "start session wren", "here no button came")  # fmt: skip
    (before,) = evening.reps()
    done = evening.answer(answer)
    (rep,) = evening.reps()
    assert (before.outcome, rep.outcome, rep.doubtful) == (None, "unknown", False)
    assert (rep.peak_level, rep.signs) == (3, ("ear flick",))  # what is known stays
    assert not evening.asked
    assert not [line for line in done.changed if "came" in line and "Counts" not in line]
    assert known(evening.view().ledger.undo).told == "'not known' for how 'here' ended"
    evening.undo()
    assert [one.why for one in evening.asked] == ["how it ended was not said"]
    evening.redo()
    assert not evening.asked
    evening.do("add", words="came", at_s=evening.reps()[0].end_s + 0.1)
    assert [one.outcome for one in evening.reps()] == ["complied"]  # somebody knows after all


def test_a_rep_that_was_left_open_is_answered_as_not_known(
    service: ReviewService, log: Log
) -> None:
    evening = desk(service, log, "start session bracken", "here", "level three", "memo",
                   "end memo", "here", "came", "end session")  # fmt: skip
    asked = [one.rep for one in evening.asked]
    evening.answer("not known")
    assert asked == [1]
    assert not evening.asked
    assert [(rep.outcome, rep.doubts) for rep in evening.reps()] == [
        ("unknown", ()),
        ("complied", ()),
    ]


def test_only_how_a_rep_ended_may_be_not_known(service: ReviewService, log: Log) -> None:
    evening = desk(service, log, "start session bracken", "here came ignored", "end session")
    (asked,) = evening.asked
    assert "not known" not in asked.answers
    with pytest.raises(NotANoteError):
        evening.answer("not known")


def test_the_answer_stands_in_the_rep_and_not_at_the_end_of_the_session(
    service: ReviewService, log: Log
) -> None:
    lines = ("start session bracken", "here", "level three", "strike rep 9", "strike rep 9",
             "strike rep 9", "here", "came", "end session")  # fmt: skip
    evening = desk(service, log, *lines)
    evening.answer("ignored")
    assert [rep.outcome for rep in evening.reps()] == ["ignored", "complied"]
    marks = known(evening.view().session).marks
    assert [(mark.kind, mark.rep) for mark in marks if mark.kind == "outcome"] == [
        ("outcome", 1),
        ("outcome", 2),
    ]


def test_an_answer_in_another_dogs_session_changes_only_its_own(
    service: ReviewService, log: Log
) -> None:
    lines = ("start session bracken", "here", "next dog wren", "here", "came", "end session")
    evening = desk(service, log, *lines)
    evening.answer("came")
    assert evening.reps()[0].outcome == "complied"
    wren = known(service.session_catalog.page(service.session_catalog.line(
        evening.recording).sessions[1].id)).session  # fmt: skip
    assert "correction came" not in [row.entry.reading for row in service.view(wren.id).rows]
    assert len(wren.reps) == 1


def test_a_level_that_cannot_be_is_read_anew_where_it_was_said(
    service: ReviewService, log: Log
) -> None:
    evening = desk(
        service, log, "start session bracken", "here", "level two", "up to thirty", "came"
    )
    assert [(one.why, one.answers) for one in evening.asked] == [
        ("the level is beyond the transmitter", ("level thirteen",))
    ]
    before = [mark.at_s for mark in evening.reps()[0].levels]
    evening.answer("level 3")
    (rep,) = evening.reps()
    assert [(mark.at_s, mark.level) for mark in rep.levels] == list(
        zip(before, [2, 3], strict=True)
    )
    assert not rep.doubtful


@pytest.mark.parametrize(
    ("answer", "mode", "levels"), [("no button", "none", []), ("level 3", "continuous", [2, 3])]
)
def test_a_press_and_no_button_are_settled_either_way(
    service: ReviewService, log: Log, answer: str, mode: str, levels: list[int]
) -> None:
    evening = desk(
        service, log, "start session bracken", "here level two", "up to three", "came", "no button"
    )
    assert evening.asked[0].answers == ("no button", "level three")
    evening.answer(answer)
    (rep,) = evening.reps()
    assert (rep.mode, [mark.level for mark in rep.levels], rep.doubtful) == (mode, levels, False)


def test_an_answer_that_tells_of_no_rep_or_comes_too_late_is_refused(
    service: ReviewService, log: Log
) -> None:
    evening = desk(service, log, *HALF)
    (asked,) = evening.asked
    for words in ("distraction low", "line hlep", "end session", "strike that"):
        with pytest.raises(NotANoteError):
            evening.answer(words)
    with pytest.raises(EditConflictError):
        evening.do("answer", rep=asked.question.id, version="old", words="came")
    evening.answer("came")
    with pytest.raises(NotFoundError):
        evening.do("answer", rep=asked.question.id, version=asked.version, words="ignored")
