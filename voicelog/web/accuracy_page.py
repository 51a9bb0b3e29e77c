"""How accurate the log is, as a page: the report of `voicelog learn` with links to the sound."""

from __future__ import annotations

import threading
from collections.abc import Mapping
from typing import Any

from voicelog.analysis.accuracy import AccuracyReport, Confusion, learn
from voicelog.analysis.reviewed_entries import ReviewedEntries
from voicelog.analysis.word_advice import OFTEN
from voicelog.app.learn import accuracy_paper, measure_accuracy
from voicelog.app.open_log import settings_in_force
from voicelog.app.rehear.reviewed import ReviewCache
from voicelog.app.review.review_service import ReviewService
from voicelog.model import VoicelogError
from voicelog.report.words import clock, date_words
from voicelog.web.responses import path_step

__all__ = ["AccuracyPage"]

LINKED = 8
"""Confusions with links, and links of each, at most."""


class AccuracyPage:
    """What the people at this page have taught. May be used from several threads."""

    def __init__(self, service: ReviewService) -> None:
        self._desk = service
        self._lock = threading.Lock()
        self._memo: ReviewCache = {}
        self._seen, self._learned = -1, learn(ReviewedEntries())

    def shown(self) -> Mapping[str, Any]:
        """What the template asks for."""
        learned = self._now()
        log = self._desk.log
        paper = accuracy_paper(log, learned, settings_in_force(log))
        if paper.missing:
            return {"missing": paper.missing, "sections": (), "at": ()}
        return {
            "missing": "",
            "sections": paper.sections,
            "at": [
                (one.said, one.heard, self._links(one))
                for one in learned.confusions[:LINKED]
                if one.count >= OFTEN
            ],
        }

    def _now(self) -> AccuracyReport:
        with self._lock:
            newest = self._desk.log.event_seq()
            if newest != self._seen:
                self._learned = measure_accuracy(self._desk.log, self._memo)
                self._seen = newest
            return self._learned

    def _links(self, one: Confusion) -> list[tuple[str, str]]:
        """The newest places where it was so, in words and as addresses."""
        found = []
        for recording, entry, start_s in reversed(one.at[-LINKED:]):
            try:
                line = self._desk.session_catalog.line(recording)
            except VoicelogError:
                continue  # not derived yet
            session = next((e.session for e in line.entries if e.id == entry), None)
            key = session or recording
            day = f"{date_words(line.started_at)}, " if line.started_at else ""
            found.append((f"{day}{clock(start_s)}", f"/session/{path_step(key)}#e-{entry}"))
        return found
