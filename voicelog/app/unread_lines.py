"""The typed lines of a dog that were not understood, for papers that are of several sessions."""

from __future__ import annotations

from collections import Counter

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
"""Sessions with such lines, of all dogs, of which the lines are read for the kennel, the newest."""


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
    """What `unread_lines_of` says, by dog, of those whose lines may tell of harm, or were too many
    to be looked at; "" is where no dog was named."""
    lines: dict[str, list[str]] = {}
    more = Counter[str]()
    rows = [
        (row.dog, row)
        for row in catalog.headings(SessionFilter(check=True)).rows
        if row.dog is not None and row.counts.get("unread", 0)
    ]
    for place, (dog, row) in enumerate(rows):
        found = lines.setdefault(dog, [])
        if place < _KENNEL_LOOKED_AT:
            found += _lines(catalog, row)
        else:
            more[dog] += row.counts["unread"]
    return {
        dog: unread_lines_words(found, more[dog])
        for dog, found in lines.items()
        if more[dog] or any(harm_told(line) in _TO_SEE for line in found)
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
