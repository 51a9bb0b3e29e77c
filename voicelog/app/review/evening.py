"""What of a session's entries is for this evening: a person has so much patience and no more.

What goes beyond the budget may stay unread; it counts in nothing until it is read. A typed line
that was not understood and may tell of harm is never beyond it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from voicelog.app.review.session_view import EntryRow, SessionView
from voicelog.report.review_words import budget_words, neighbour_words
from voicelog.report.state_words import CHECK, SURE
from voicelog.report.unread_lines import unread_lines_words

__all__ = ["MOST", "Evening", "evening_of"]

MOST = 99
"""The largest budget of an evening, in entries."""


@dataclass(frozen=True, slots=True)
class Evening:
    """A session's entries for an evening.

    first: those to check, in the order in which to take them.
    rest: all others, in order of time.
    tonight: how many of `first` are for this evening: what is left of its budget, and all up to the
        last typed line that was not understood and may tell of harm.
    told: all of this in a sentence.
    around: of each entry understood, by id, what was said before and after it, in words.
    """

    first: tuple[EntryRow, ...]
    rest: tuple[EntryRow, ...]
    tonight: int
    told: str
    around: Mapping[str, str]


def evening_of(view: SessionView, today: date, budget: int) -> Evening:
    """What to check of a session.

    Args:
        view: the session.
        today: the day it is; what was read on it is taken off the budget.
        budget: how many entries an evening may take, 1 to `MOST`.
    """
    by_id = view.entries
    first = view.waiting
    waiting = {row.entry.id for row in first}
    read = sum(
        at is not None and at.date() == today
        for entry, at in view.ledger.touched.items()
        if entry in by_id
    )
    left = max(0, budget - read)
    harmful = [place for place, row in enumerate(first, start=1) if row.may_tell_of_harm]
    tonight = max([left, *harmful])
    weighs = [row.check.weighs for row in first if row.check is not None]
    late = sum(row.check is not None for row in first[tonight:])
    unread = unread_lines_words([row.entry.heard for row in first if row.is_unread])
    return Evening(
        first=first,
        rest=tuple(row for row in view.rows if row.entry.id not in waiting),
        tonight=tonight,
        told=budget_words(
            weighs,
            late=late,
            done=not left,
            read=read,
            budget=budget,
            questions=len(view.questions),
            harmful=len(harmful),
            unread=unread,
        ),
        around=_around(view),
    )


def _around(view: SessionView) -> dict[str, str]:
    said = [row for row in view.rows if row.word in (SURE, CHECK)]
    words = [None, *(row.said for row in said), None]
    return {
        row.entry.id: neighbour_words(words[place], words[place + 2])
        for place, row in enumerate(said)
    }
