"""Names of dogs that the log does not know, gathered over its sessions, and answering for them.

A name is never guessed: the lines with it are not understood, and kept, until a person says whose
it is. The answer is a reading of each line, with the history and the undo of any other.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from datetime import datetime

from rapidfuzz.distance import OSA

from voicelog.app.grammars import grammar_of
from voicelog.app.review.edit_history import EditRequest
from voicelog.app.review.review_service import ReviewService
from voicelog.app.session_catalog import SessionCatalog, entries_of
from voicelog.grammar.typed_names import called_stranger, unknown_name
from voicelog.grammar.typed_note import read_typed_note
from voicelog.model import UsageError
from voicelog.report.wording.unknown_names import StrangeName, StrangeNamePlace
from voicelog.store import SessionFilter

__all__ = ["answer_name", "strange_names"]


def strange_names(catalog: SessionCatalog) -> tuple[StrangeName, ...]:
    """The names in typed lines that were not understood, each once, the oldest first. `catalog` is
    that of the log."""
    places: dict[str, list[StrangeNamePlace]] = {}
    for name, place in _places(catalog):
        places.setdefault(name, []).append(place)
    dogs = [dog.name for dog in catalog.log.roster().dogs]

    def likest(name: str) -> tuple[str, ...]:
        return tuple(sorted(dogs, key=lambda dog: OSA.normalized_distance(name, dog.casefold())))

    return tuple(StrangeName(name, tuple(at), likest(name)) for name, at in places.items())


def answer_name(
    catalog: SessionCatalog, name: str, known: str, who: str, now: Callable[[], datetime]
) -> tuple[str, ...]:
    """Say that a name is that of a dog, for all lines with it; what changed, a line each.

    Args:
        catalog: that of the log.
        name: as it was typed.
        known: the dog that it is.
        who: who says so.
        now: the clock.

    Raises:
        UsageError: no line that waits has that name, or none is a note with the other.
        ReviewError: somebody else changed a line meanwhile.
    """
    found = next((one for one in strange_names(catalog) if one.name == name.casefold()), None)
    if found is None:
        raise UsageError(
            f"Found no line that waits with the name '{name[:40]}', wanted one that the log does "
            "not know; see 'voicelog questions'."
        )
    service = ReviewService(catalog.log, now)
    changed: list[str] = []
    done = 0
    for place in found.places:
        view = service.view(place.session)
        words = re.sub(rf"\b{re.escape(found.name)}\b", known, place.typed, flags=re.IGNORECASE)
        read = read_typed_note(grammar_of(view.kept), words)
        row = view.entries.get(place.entry)
        if row is None or not read.sure:
            continue
        deed = EditRequest(do="read", version=row.version, entry=place.entry, words=words)
        changed += service.do(place.session, deed, who).changed
        done += 1
    if not done:
        raise UsageError(
            f"Found no line with '{found.name}' that is a note with '{known[:40]}' for it, wanted "
            "a dog that could be named when it was typed; correct each with 'voicelog correct'."
        )
    return tuple(changed)


def _places(catalog: SessionCatalog) -> Iterator[tuple[str, StrangeNamePlace]]:
    for row in reversed(catalog.headings(SessionFilter()).rows):
        kept = catalog.log.recording(row.recording)
        if row.dog is None or not row.counts.get("unread") or kept is None:
            continue
        grammar = grammar_of(kept)
        for entry in entries_of(catalog.line(row.recording), row.key):
            if entry.status != "rejected" or entry.voided:
                continue
            words = read_typed_note(grammar, entry.heard).words
            name = unknown_name(grammar, words) or called_stranger(grammar, entry.heard)
            if name is not None:
                place = StrangeNamePlace(
                    row.key, row.dog, row.day, entry.id, entry.start_s, entry.heard
                )
                yield name, place
