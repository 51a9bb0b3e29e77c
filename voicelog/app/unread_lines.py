"""The typed lines of a dog that were not understood, for papers that are of several sessions."""

from __future__ import annotations

from voicelog.app.session_catalog import SessionCatalog
from voicelog.app.session_entries import entries_of
from voicelog.app.typed_lines import TYPED
from voicelog.grammar.harm_words import HarmKind, harm_told
from voicelog.report.state_words import NOT_UNDERSTOOD, entry_word
from voicelog.report.unread_lines import unread_lines_words
from voicelog.store import CacheHeading, SessionFilter

__all__ = ["harmful_lines", "unread_lines_of"]

_LOOKED_AT = 10
"""Sessions of a dog of which the lines are read, the newest; those of older ones are only
counted."""
_TO_SEE: frozenset[HarmKind | None] = frozenset({"skin", "pain or stress", "biting or growling"})
_KENNEL_LOOKED_AT = 60
"""Sessions with something to check, of all dogs, of which the lines are read for the kennel."""


def unread_lines_of(catalog: SessionCatalog, dog: str) -> str:
    """That lines of the sessions of `dog` were not understood, in words; empty where none are."""
    rows = [
        row
        for row in catalog.headings(SessionFilter(dog=dog, check=True)).rows
        if row.counts.get("unread", 0)
    ]
    lines = [one for row in rows[:_LOOKED_AT] for one in _lines(catalog, row)]
    return unread_lines_words(lines, sum(row.counts["unread"] for row in rows[_LOOKED_AT:]))


def harmful_lines(catalog: SessionCatalog) -> dict[str, str]:
    """What `unread_lines_of` says, by dog, of those whose lines may tell of harm; "" is where no
    dog was named. Of the newest sessions alone."""
    found: dict[str, list[str]] = {}
    for row in catalog.headings(SessionFilter(check=True), limit=_KENNEL_LOOKED_AT).rows:
        if row.dog is not None and row.counts.get("unread", 0):
            found.setdefault(row.dog, []).extend(_lines(catalog, row))
    return {
        dog: unread_lines_words(lines)
        for dog, lines in found.items()
        if any(harm_told(line) in _TO_SEE for line in lines)
    }


def _lines(catalog: SessionCatalog, row: CacheHeading) -> list[str]:
    line = catalog.line(row.recording)
    if line.listeners != (TYPED,):
        return []
    return [
        one.heard
        for one in entries_of(line, row.key)
        if entry_word(one) == NOT_UNDERSTOOD and not one.voided
    ]
