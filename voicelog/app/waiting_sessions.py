"""Which sessions have something that waits for a person, so that no list of one hides the rest."""

from __future__ import annotations

import sys
from collections.abc import Mapping

from voicelog.app.review.review_service import ReviewService
from voicelog.app.review.session_view import SessionView
from voicelog.app.session_catalog import SessionCatalog
from voicelog.report.correct_words import WaitingSession
from voicelog.store import SessionFilter

__all__ = ["stop_elsewhere", "waiting_elsewhere"]


def waiting_elsewhere(catalog: SessionCatalog, told: Mapping[str, int]) -> list[WaitingSession]:
    """The sessions with entries to check, reps to answer for or typed lines that were not
    understood, the newest first.

    Args:
        catalog: that of the log.
        told: of sessions that are being shown, by id, how many of these are.
    """
    found = []
    for row in catalog.headings(SessionFilter(check=True)).rows:
        left = row.counts.get("look", 0) + row.counts.get("unread", 0) - told.get(row.key, 0)
        if row.dog is not None and left > 0:
            stopped = row.worst == "stop"
            found.append(WaitingSession(row.dog, row.day, left, row.key, stopped))
    return found


def stop_elsewhere(service: ReviewService, shown: SessionView) -> WaitingSession | None:
    """The newest other session of which a stop depends on an entry to check, where none does of
    the session `shown`; of the same dog, where one was heard. `service` is the log's."""
    if _stop_depends(shown):
        return None
    dog = None if shown.session is None else shown.session.dog.name
    for one in waiting_elsewhere(service.session_catalog, {shown.head.key: sys.maxsize}):
        if one.stopped and dog in (None, one.dog) and _stop_depends(service.view(one.key)):
            return one
    return None


def _stop_depends(view: SessionView) -> bool:
    return any(item.reason == "rests: stop" for item in view.to_check)
