"""A deletion before it is done: what would go, in lines that are shown first, and what does it.

The terminal asks with these lines and the page shows them, so that both delete what was seen.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from hashlib import sha256
from pathlib import Path
from typing import Literal

from voicelog.app import delete
from voicelog.app.session_catalog import SessionCatalog
from voicelog.app.session_choice import sessions_of_dog
from voicelog.app.session_entries import entries_of
from voicelog.app.typed_lines import TYPED
from voicelog.report.deletion_words import (
    DELETE_ASIDE,
    STILL_HELD,
    dog_found_line,
    gone_line,
    leftover_line,
    session_found_line,
    sound_found_line,
)
from voicelog.report.wording.matters import at_stake_lines
from voicelog.report.words import clean
from voicelog.store import CacheHeading
from voicelog.store.deletion import DeletionResult, leftovers

__all__ = [
    "PlannedDeletion",
    "asides_to_delete",
    "dog_to_delete",
    "lines_of_gone",
    "sessions_to_delete",
    "sound_to_delete",
]


@dataclass(frozen=True, slots=True)
class PlannedDeletion:
    """What would go, a line each, and what does it. `count` is how many things that are; `settings`
    is the file of settings that name the `dog`, and keep doing so."""

    lines: tuple[str, ...]
    do: Callable[[], DeletionResult]
    count: int
    settings: Path | None = None
    dog: str = ""

    @property
    def seen(self) -> str:
        """Stands for what is shown: nothing else is deleted."""
        shown = "\n".join((*self.lines, str(self.settings or "")))
        return sha256(shown.encode()).hexdigest()[:20]


def sessions_to_delete(
    catalog: SessionCatalog, dog: str, day: date | None, session: str | None
) -> PlannedDeletion:
    """A dog's sessions of a day, or the one of an id; `catalog`, `day` and what is raised as
    `find_sessions`."""
    rows = delete.find_sessions(catalog, dog, day, session)
    found = [_found_line(catalog, row) for row in rows]
    lost = _at_stake(delete.matters_at_stake(catalog, rows))
    return PlannedDeletion(
        (*found, *lost), lambda: delete.delete_sessions(catalog, rows), len(rows)
    )


def _found_line(catalog: SessionCatalog, row: CacheHeading) -> str:
    kept = catalog.log.recording(row.recording)
    typed = kept is not None and kept.listeners == (TYPED,)
    has_sound = kept is not None and kept.sound is not None
    entries = entries_of(catalog.line(row.recording), row.key)
    beside: Literal["typed", "sound", "no sound"] = (
        "typed" if typed else "sound" if has_sound else "no sound"
    )
    return session_found_line(row.dog, row.day, row.counts, len(entries), beside, row.key)


def dog_to_delete(catalog: SessionCatalog, dog: str) -> PlannedDeletion:
    """A dog with its profile and sessions; `catalog` and what is raised as `find_dog`."""
    found = delete.find_dog(catalog, dog)
    rows = sessions_of_dog(catalog, found.dog)
    lost = _at_stake(delete.matters_at_stake(catalog, rows, whole_dog=True))
    settings = delete.settings_that_name(catalog, found.dog)
    reps = sum(row.counts.get("reps", 0) + row.counts.get("void_reps", 0) for row in rows)
    entries = sum(len(entries_of(catalog.line(row.recording), row.key)) for row in rows)
    return PlannedDeletion(
        (dog_found_line(found.dog, found.sessions, len(found.parts), reps, entries), *lost),
        lambda: delete.delete_dog(catalog, found),
        1,
        settings,
        found.dog,
    )


def sound_to_delete(
    catalog: SessionCatalog, days: int, *, unread: bool, memos: bool, matters: bool
) -> PlannedDeletion:
    """Old sound; `catalog`, `days` and what is spared as `find_sound` has it."""
    found = delete.find_sound(catalog, days, unread=unread, memos=memos, matters=matters)
    left = (found.to_check, found.with_memos, found.with_matters)
    return PlannedDeletion(
        (sound_found_line(len(found.chosen), *left),),
        lambda: delete.delete_sound(catalog, found.chosen),
        len(found.chosen),
    )


def asides_to_delete(catalog: SessionCatalog) -> PlannedDeletion:
    """All recordings of the `catalog` that are set aside."""
    out = catalog.asides()
    lines = (clean(f"{error.name}: {error.why}") for error in out.values())
    return PlannedDeletion(
        (*lines, DELETE_ASIDE), lambda: delete.delete_recordings(catalog, list(out)), len(out)
    )


def lines_of_gone(folder: Path, gone: DeletionResult) -> tuple[str, ...]:
    """What is `gone` from the log in a folder, a line each, and who may hold it still."""
    lines = (
        gone_line(gone.events, gone.sounds, gone.recordings),
        leftover_line(leftovers(folder)),
        STILL_HELD,
    )
    return tuple(filter(None, lines))


def _at_stake(at_stake: delete.MattersAtStake) -> tuple[str, ...]:
    return tuple(at_stake_lines(at_stake.kept, at_stake.forgotten, at_stake.ceilings))
