"""The typed lines of a dog that were not understood, for papers that are of several sessions."""

from __future__ import annotations

from voicelog.app.session_catalog import SessionCatalog
from voicelog.app.session_entries import entries_of
from voicelog.app.typed_lines import TYPED
from voicelog.report.state_words import NOT_UNDERSTOOD, entry_word
from voicelog.report.unread_lines import unread_lines_words
from voicelog.store import SessionFilter

__all__ = ["unread_lines_of"]

_LOOKED_AT = 10
"""Sessions of which the lines are read, the newest; those of older ones are only counted."""


def unread_lines_of(catalog: SessionCatalog, dog: str) -> str:
    """That lines of the sessions of `dog` were not understood, in words; empty where none are."""
    rows = [
        row
        for row in catalog.headings(SessionFilter(dog=dog, check=True)).rows
        if row.counts.get("unread", 0)
    ]
    lines: list[str] = []
    for row in rows[:_LOOKED_AT]:
        line = catalog.line(row.recording)
        if line.listeners == (TYPED,):
            lines += [
                one.heard
                for one in entries_of(line, row.key)
                if entry_word(one) == NOT_UNDERSTOOD and not one.voided
            ]
    return unread_lines_words(lines, sum(row.counts["unread"] for row in rows[_LOOKED_AT:]))
