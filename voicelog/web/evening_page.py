"""The evening queue on the page: its cards as data, and what is done to one."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from voicelog.app.review.edit_history import EditRequest
from voicelog.app.review.errors import BadRequestError
from voicelog.app.review.evening_queue import QueueCard, card_order, evening_queue, session_cards
from voicelog.app.review.review_service import ReviewService
from voicelog.report.review_words import DONE, NO_DOG_NAMED, NO_SESSION_HEARD
from voicelog.report.words import at_clock, clean, counted, day

__all__ = ["Heard", "act_on_card", "shown_queue"]

Heard = Callable[[str, float, float], bool]
"""Whether a stretch of a recording (its id, begin and end, s) was heard by who decides."""


def shown_queue(service: ReviewService, dog: str | None, heard: Heard) -> dict[str, Any]:
    """The queue as the page takes it; of one dog, or of all (None). `heard` says what was played
    already."""
    queue = evening_queue(service, dog)
    waiting = counted(queue.waiting, "older session") + " to check after these"
    return {
        "cards": [_data(card, heard) for card in queue.cards],
        "waiting": waiting if queue.waiting else "",
    }


def act_on_card(
    service: ReviewService, key: str, deed: EditRequest, who: str, heard: Heard
) -> dict[str, Any]:
    """Do it, as on the session's own page; what came of it, and the session's cards as they are
    now. A card that a stop may hang on is decided only where `heard` says that it was played.

    Raises:
        BadRequestError: it has to be heard first.
        ReviewError: as `ReviewService.do`.
    """
    if deed.do in _DECIDED:
        shown = session_cards(service, key)
        must = [
            one for one in shown if one.row and one.row.entry.id == deed.entry and one.must_hear
        ]
        if not all(_is_heard(one, heard) for one in must):
            raise BadRequestError(
                "A stop may hang on this entry: play it once to its end, then decide."
            )
    done = service.do(key, deed, who)
    undo = done.view.ledger.undo
    cards = session_cards(service, done.key)
    return {
        "key": done.key,
        "entry": done.entry,
        "counts": list(done.counts[:2]),
        "changed": list(done.changed),
        "done": DONE[deed.do],
        "undo": undo.id if undo else None,
        "cards": [_data(card, heard) for card in cards],
    }


_DECIDED = ("confirm", "read", "void")


def _is_heard(card: QueueCard, heard: Heard) -> bool:
    return heard(card.recording, card.from_s, card.to_s)


def _data(card: QueueCard, heard: Heard) -> dict[str, Any]:
    found: dict[str, Any] = {
        "key": card.key,
        "order": card_order(card),
        "dog": clean(card.dog) or (NO_DOG_NAMED if card.dog == "" else NO_SESSION_HEARD),
        "day": day(card.began) if card.began else "day not known",
        "recording": card.recording if card.has_sound else "",
        "at": at_clock(card.from_s, card.to_s),
        "from": round(card.from_s, 2),
        "to": round(card.to_s, 2),
        "must": card.must_hear,
        "heard": card.must_hear and _is_heard(card, heard),
    }
    if card.row is not None:
        entry = card.row.entry
        offers = card.row.offers[:9]
        confirm = bool(entry.phrases) and not card.row.guessed
        why = card.row.why
        return found | {
            "kind": "entry", "id": entry.id, "version": card.row.version, "offers": offers,
            "said": clean(card.row.said) or "no words", "why": why, "around": clean(card.around),
            "confirm": confirm, "wordless": not card.row.said,
        }  # fmt: skip
    asked = card.question
    assert asked is not None  # a card is of one or the other
    return found | {
        "kind": "rep", "id": asked.question.id, "version": asked.version,
        "offers": asked.answers[:9], "said": f"Rep {asked.rep}: {asked.why}", "why": asked.asks,
        "around": "", "confirm": False,
    }  # fmt: skip
