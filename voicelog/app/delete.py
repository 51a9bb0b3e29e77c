"""What is deleted for good, in two steps: what it would be, and, once a person agreed, doing it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from pathlib import Path

from voicelog.app.open_log import SETTINGS_NAME
from voicelog.app.session_catalog import SessionCatalog
from voicelog.app.session_choice import parts_of_sessions, sessions_in, sessions_of_dog
from voicelog.model import VoicelogError
from voicelog.store import CacheHeading, StoredRecording, deletion
from voicelog.store.deletion import DeletionResult
from voicelog.store.recording_part import RecordingPart, recording_part

__all__ = [
    "DogDeletion",
    "SoundDeletion",
    "delete_dog",
    "delete_recordings",
    "delete_sessions",
    "delete_sound",
    "find_dog",
    "find_sessions",
    "find_sound",
    "settings_that_name",
]


@dataclass(frozen=True, slots=True)
class DogDeletion:
    """What goes with a dog."""

    dog: str
    sessions: int
    parts: tuple[RecordingPart, ...]


@dataclass(frozen=True, slots=True)
class SoundDeletion:
    """Old sound that may go, and how many recordings keep theirs."""

    chosen: tuple[StoredRecording, ...]
    to_check: int
    """Recordings left out since entries in them are still to check."""
    with_memos: int
    """Others left out since there are memos in them, which are sound only."""


# --- sessions ---------------------------------------------------------------------------


def find_sessions(
    catalog: SessionCatalog, dog: str, day: date | None, session: str | None = None
) -> list[CacheHeading]:
    """A dog's sessions of a day (or all), or of these the one of that id.

    Raises:
        VoicelogError: there is none.
    """
    rows = sessions_of_dog(catalog, dog, day)
    if session is not None:
        rows = [row for row in rows if row.key == session]
    if not rows:
        raise VoicelogError(
            f"Found no session of '{dog}' on {day}{' with that id' if session else ''}; see "
            "'voicelog summary --all'."
        )
    return rows


def delete_sessions(catalog: SessionCatalog, sessions: Sequence[CacheHeading]) -> DeletionResult:
    """Delete sessions: entries and sound. Sound that tells of others too is kept, these silent.

    Raises:
        LogError: as the disk refuses.
    """
    parts = parts_of_sessions(catalog, {row.key for row in sessions})
    gone = deletion.delete_parts(catalog.log, parts)
    catalog.refresh()
    return gone


# --- a dog ------------------------------------------------------------------------------


def find_dog(catalog: SessionCatalog, dog: str) -> DogDeletion:
    """What goes with a dog: its sessions, and its recordings in which no session was heard.
    `catalog` is that of the log, refreshed.

    Raises:
        VoicelogError: a recording is set aside, so nobody can say whose it is.
    """
    if out := catalog.asides():
        raise VoicelogError(
            f"{', '.join(error.name for error in out.values())} is set aside, so it cannot be "
            "said what of it belongs to whom: delete it first, with 'voicelog delete aside'."
        )
    log = catalog.log
    rows = sessions_of_dog(catalog, dog)
    parts = parts_of_sessions(catalog, {row.key for row in rows})
    taken = {part.recording for part in parts}
    for kept in log.recordings():
        its_own = kept.dog is not None and kept.dog.casefold() == dog.casefold()
        if its_own and kept.id not in taken and not sessions_in(catalog, kept.id):
            parts.append(recording_part(kept.id, log.events(kept.id), (), ()))
    return DogDeletion(dog, len(rows), tuple(parts))


def delete_dog(catalog: SessionCatalog, found: DogDeletion) -> DeletionResult:
    """Delete a dog: its profile, its sessions, their sound.

    Raises:
        IncompleteRecordingError: a recording is only half added.
        UnknownNameError: the log knows no such dog.
        LogError: as the disk refuses.
    """
    gone = deletion.delete_dog(catalog.log, found.dog, found.parts)
    catalog.refresh()
    return gone


def settings_that_name(catalog: SessionCatalog, dog: str) -> Path | None:
    """The log's settings file where it names a dog, which is left to people. `catalog` is that of
    the log."""
    settings = catalog.log.folder / SETTINGS_NAME
    named = settings.is_file() and dog.casefold() in settings.read_text("utf-8").casefold()
    return settings if named else None


# --- recordings and their sound ---------------------------------------------------------


def delete_recordings(catalog: SessionCatalog, recordings: Sequence[str]) -> DeletionResult:
    """Delete whole recordings by their ids, such as those that are set aside.

    Raises:
        LogError: as the disk refuses.
    """
    parts = [recording_part(recording, (), (), ()) for recording in recordings]
    return deletion.delete_parts(catalog.log, parts)


def find_sound(
    catalog: SessionCatalog, older_than: int, *, unread: bool = False, memos: bool = False
) -> SoundDeletion:
    """The sound recorded at least so many days ago. `catalog` is that of the log, refreshed.

    Args:
        older_than: days, 0 or more.
        unread: also where entries are still to check.
        memos: also where there are memos.
    """
    log = catalog.log
    out = catalog.asides()
    until = log.now().replace(tzinfo=None) - timedelta(days=older_than)
    old = [
        kept
        for kept in log.recordings()
        if kept.sound is not None
        and kept.complete
        and _moment(kept) <= until
        and kept.id not in out
    ]
    to_check = {kept.id for kept in old if not unread and _is_to_check(catalog, kept)}
    spoken = {kept.id for kept in old if not memos and _has_memo(catalog, kept)}
    return SoundDeletion(
        chosen=tuple(kept for kept in old if kept.id not in to_check | spoken),
        to_check=len(to_check),
        with_memos=len(spoken - to_check),
    )


def delete_sound(catalog: SessionCatalog, recordings: Sequence[StoredRecording]) -> DeletionResult:
    """Delete the sound of recordings; their entries stay.

    Raises:
        LogError: as the disk refuses.
    """
    return deletion.delete_sound(catalog.log, recordings)


def _moment(kept: StoredRecording) -> datetime:
    return (kept.started_at or kept.added_at).replace(tzinfo=None)


def _is_to_check(catalog: SessionCatalog, kept: StoredRecording) -> bool:
    return any(
        entry.status == "doubtful" and not entry.voided for entry in catalog.line(kept.id).entries
    )


def _has_memo(catalog: SessionCatalog, kept: StoredRecording) -> bool:
    said = (entry.slots.get("do") for entry in catalog.line(kept.id).entries if not entry.voided)
    return any("memo" in (do if isinstance(do, list) else [do]) for do in said)
