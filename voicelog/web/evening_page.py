"""The evening queue on the page: its cards as data, and what is done to one."""

from __future__ import annotations

from typing import Any

from voicelog.app.review.edit_history import EditRequest
from voicelog.app.review.evening_queue import QueueCard, card_order, evening_queue, session_cards
from voicelog.app.review.review_service import ReviewService
from voicelog.report.review_words import DONE, NO_DOG_NAMED, NO_SESSION_HEARD
from voicelog.report.words import at_clock, clean, counted, day

__all__ = ["act_on_card", "shown_queue"]


def shown_queue(service: ReviewService, dog: str | None) -> dict[str, Any]:
    """The queue as the page takes it; of one dog, or of all (None)."""
    queue = evening_queue(service, dog)
    waiting = counted(queue.waiting, "older session") + " to check after these"
    return {
        "cards": [_data(card) for card in queue.cards],
        "waiting": waiting if queue.waiting else "",
    }


def act_on_card(service: ReviewService, key: str, deed: EditRequest, who: str) -> dict[str, Any]:
    """Do it, as on the session's own page; what came of it, and the session's cards as they are
    now. Raises as `ReviewService.do`."""
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
        "cards": [_data(card) for card in cards],
    }


def _data(card: QueueCard) -> dict[str, Any]:
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
    }
    if card.row is not None:
        entry = card.row.entry
        offers = card.row.offers[:9]
        confirm = bool(entry.phrases) and not card.row.guessed
        why = card.row.check.why if card.row.check else ""
        return found | {
            "kind": "entry", "id": entry.id, "version": card.row.version, "offers": offers,
            "said": clean(card.row.said) or "no words", "why": why, "around": clean(card.around),
            "confirm": confirm,
        }  # fmt: skip
    asked = card.question
    assert asked is not None  # a card is of one or the other
    return found | {
        "kind": "rep", "id": asked.question.id, "version": asked.version,
        "offers": asked.answers[:9], "said": f"Rep {asked.rep}: {asked.why}", "why": asked.asks,
        "around": "", "confirm": False,
    }  # fmt: skip
