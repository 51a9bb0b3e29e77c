"""One queue over all sessions: what may weigh on a dog first, whichever session it is of.

A card is an entry to check, or a rep that is asked about. The newest sessions are looked through,
as many as `MOST_SESSIONS`; of older ones only their number is told.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from voicelog.app.review.evening import evening_of
from voicelog.app.review.rep_questions import AskedQuestion
from voicelog.app.review.review_service import ReviewService
from voicelog.app.review.session_view import EntryRow, SessionView
from voicelog.app.typed_file import TYPED
from voicelog.model.review import ReviewReason
from voicelog.store import SessionFilter

__all__ = ["EveningQueue", "QueueCard", "card_order", "evening_queue", "session_cards"]

MOST_SESSIONS = 60
"""Sessions that are looked through, newest first."""
_STOP_WEIGHT: frozenset[ReviewReason] = frozenset({"rests: stop", "strong sign"})
_QUESTION_RANKS: Mapping[str, int] = {"level": 3, "button": 4}
_OTHER_QUESTION = 5


@dataclass(frozen=True, slots=True)
class QueueCard:
    """One thing to decide, in the session of `key`.

    `row` is the entry, or `question` what is asked of a rep; `rank` says how soon it comes, the
    smaller the sooner. It begins at `from_s` and ends at `to_s` (s in the recording). Where it
    `must_hear`, a stop may hang on it, and it is decided only by who has heard it once. `around`
    is what was said before and after it.
    """

    key: str
    dog: str
    began: datetime | None
    recording: str
    has_sound: bool
    rank: int
    from_s: float
    to_s: float
    must_hear: bool
    around: str = ""
    row: EntryRow | None = None
    question: AskedQuestion | None = None


@dataclass(frozen=True, slots=True)
class EveningQueue:
    """The cards in the order in which to take them; `waiting` older sessions have more."""

    cards: tuple[QueueCard, ...]
    waiting: int


def card_order(card: QueueCard) -> tuple[int, float, str, float]:
    """By what cards are put in order: what weighs first, then the newest session, each by itself
    and in order of time."""
    newest = card.began.replace(tzinfo=None) if card.began else datetime.min
    return card.rank, -(newest - datetime.min).total_seconds(), card.key, card.from_s


def evening_queue(service: ReviewService, dog: str | None = None) -> EveningQueue:
    """The queue as it stands; of one dog, or of all (None). Where another program's work is done
    again, the newest session's dog is next, and what still waits for that is only counted."""
    wanted = SessionFilter(check=True, dog=dog)
    later = service.left_by_another_program()
    found = service.session_catalog.headings(wanted, limit=MOST_SESSIONS)
    if later and (newest := next((one for one in found.rows if one.dog is not None), None)):
        service.bring_dogs([newest.dog or ""])
        later = service.left_by_another_program()
        found = service.session_catalog.headings(wanted, limit=MOST_SESSIONS)
    rows = [row for row in found.rows if row.recording not in later]
    cards = [card for row in rows for card in session_cards(service, row.key)]
    cards.sort(key=card_order)
    return EveningQueue(tuple(cards), max(0, found.total - len(rows)))


def session_cards(service: ReviewService, key: str) -> tuple[QueueCard, ...]:
    """The cards of one session. Raises NotFoundError where there is none of that key."""
    view = service.view(key)
    has_sound = view.kept.listeners != (TYPED,) and service.log.sound_of(view.kept) is not None
    around = evening_of(view, service.today(), 1).around
    cards = [_entry_card(view, row, has_sound, around) for row in view.waiting]
    cards += [_question_card(view, one, has_sound) for one in view.questions]
    return tuple(cards)


def _entry_card(
    view: SessionView, row: EntryRow, has_sound: bool, around: Mapping[str, str]
) -> QueueCard:
    return QueueCard(
        key=view.head.key,
        dog=view.session.dog.name if view.session else "",
        began=view.page.began if view.page else None,
        recording=view.kept.id,
        has_sound=has_sound,
        rank=row.rank,
        from_s=row.entry.start_s,
        to_s=row.entry.end_s,
        must_hear=has_sound and row.check is not None and row.check.reason in _STOP_WEIGHT,
        around=around.get(row.entry.id, ""),
        row=row,
    )


def _question_card(view: SessionView, asked: AskedQuestion, has_sound: bool) -> QueueCard:
    return QueueCard(
        key=view.head.key,
        dog=view.session.dog.name if view.session else "",
        began=view.page.began if view.page else None,
        recording=view.kept.id,
        has_sound=has_sound,
        rank=_QUESTION_RANKS.get(asked.question.why, _OTHER_QUESTION),
        from_s=asked.question.at_s,
        to_s=asked.until_s,
        must_hear=False,
        question=asked,
    )
