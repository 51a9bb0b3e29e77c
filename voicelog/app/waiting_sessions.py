"""Which sessions have something that waits for a person, so that no list of one hides the rest."""

from __future__ import annotations

from collections.abc import Mapping

from voicelog.app.session_catalog import SessionCatalog
from voicelog.report.correct_words import WaitingSession
from voicelog.store import SessionFilter

__all__ = ["waiting_elsewhere"]


def waiting_elsewhere(catalog: SessionCatalog, told: Mapping[str, int]) -> list[WaitingSession]:
    """The sessions with entries to check, reps to answer for or typed lines that were not
    understood, the newest first.

    Args:
        catalog: that of the log.
        told: of sessions that are being shown, by id, how many of these are.
    """
    found = []
    for row in catalog.headings(SessionFilter()).rows:
        left = row.counts.get("look", 0) + row.counts.get("unread", 0) - told.get(row.key, 0)
        if row.dog is not None and left > 0:
            found.append(WaitingSession(row.dog, row.day, left, row.key))
    return found
