"""What may stand together, and what is said of what may not."""

from __future__ import annotations

from datetime import date

from tests.analysis.dogs import good, rep, session_digest
from voicelog.analysis.session_scope import has_call_and_outcome, last_sessions_with, scope_of
from voicelog.model import Transmitter
from voicelog.report.wording.levels import note_words

OTHER = Transmitter(top=100)


def test_another_transmitter_is_left_out_and_named() -> None:
    scope = scope_of([good(0)._replace(transmitter=OTHER), good(1), good(2)])
    assert [one.session for one in scope.session_digests] == ["s1", "s2"]
    assert tuple(map(note_words, scope.notes)) == (
        "10 reps of 1 session with another transmitter or another range in the profile (until 1 "
        "Mar 2031) are left out: a level there means something else.",
    )


def test_sessions_out_of_order_come_out_the_same() -> None:
    session_digests = [good(day) for day in range(4)]
    assert scope_of(session_digests[::-1]) == scope_of(session_digests)


def test_sessions_without_a_date_and_after_today_are_named() -> None:
    scope = scope_of([good(5), session_digest([rep()], 0, began=None), good(1)], date(2031, 3, 3))
    assert tuple(map(note_words, scope.notes)) == (
        "1 session without a date taken as older than all others.",
        "1 session dated after today (6 Mar 2031): check the clock of the recorder; their order "
        "may be wrong.",
    )


def test_no_session_is_an_empty_scope() -> None:
    assert scope_of([]).session_digests == ()


def test_only_the_last_sessions_that_have_it_are_looked_back_on() -> None:
    session_digests = [good(0), session_digest([], 1), good(2), good(3)]
    found = last_sessions_with(session_digests, lambda one: has_call_and_outcome(one, "recall"), 2)
    assert [one.session for one in found] == ["s2", "s3"]


def test_a_call_counts_when_it_is_sure_heard_and_has_an_outcome() -> None:
    assert has_call_and_outcome(rep(), "recall")
    for changes in (
        {"state": "check"}, {"state": "void"}, {"cues": 0}, {"outcome": None},
        {"outcome": "unknown"}, {"drill": "stop"},
    ):  # fmt: skip
        assert not has_call_and_outcome(rep()._replace(**changes), "recall")
