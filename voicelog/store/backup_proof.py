"""Which backups were made, and whether the newest restores: it is restored to find out.

A list of the last backups stands beside the database (`backups.json`): where each was written,
and how far the chain went then. A backup is proven by restoring it into an empty folder and
looking for everything that was committed by then and was not deleted since.
"""

from __future__ import annotations

import tempfile
from datetime import datetime
from pathlib import Path

from pydantic import TypeAdapter, ValidationError

from voicelog.model import FrozenModel, VoicelogError
from voicelog.store import chain
from voicelog.store.backup import restore
from voicelog.store.chain import ChainEnd
from voicelog.store.log import Log
from voicelog.store.log_lock import lock_alike

__all__ = ["BackupNote", "BackupProof", "newest_backup", "note_backup", "prove_newest_backup"]

BACKUPS_FILE = "backups.json"
_MOST = 20
"""Backups that are remembered."""


class BackupNote(FrozenModel):
    """A backup that was written: where, when, how far the log's chain went; and when it was last
    proven to restore."""

    file: str
    made_at: datetime
    end: ChainEnd
    proven_at: datetime | None = None


class BackupProof(FrozenModel):
    """What came of looking at the newest backup. `fault` says why it does not restore; None: it
    does, with so many recordings and events. `there`: its file was found."""

    note: BackupNote
    there: bool
    fault: str | None = None
    recordings: int = 0
    events: int = 0


_NOTES = TypeAdapter(tuple[BackupNote, ...])


def note_backup(log: Log, path: Path) -> None:
    """Remember that a backup of `log` was written to `path` just now."""
    with log.reading() as connection:
        end = chain.chain_end(connection)
    note = BackupNote(file=str(path.absolute()), made_at=log.now(), end=end)
    _write(log.folder, (note, *_notes(log.folder)))


def newest_backup(folder: Path) -> BackupNote | None:
    """The backup of the log in `folder` that was made last, None where none is known."""
    return max(_notes(folder), key=lambda note: note.made_at.timestamp(), default=None)


def prove_newest_backup(log: Log) -> BackupProof | None:
    """Restore the newest backup into a folder of its own, and look for all that it must hold; None
    where none is known. That it was proven is remembered."""
    note = newest_backup(log.folder)
    if note is None:
        return None
    path = Path(note.file)
    if not path.is_file():
        return BackupProof(note=note, there=False)
    try:
        with tempfile.TemporaryDirectory(prefix="voicelog-") as folder:
            place = Path(folder)
            if log.locked:
                lock_alike(log.folder, place / "log")
            with Log.open(place / "log", now=log.now) as restored:
                done, _ = restore(restored, path, place / "settings.toml")
                lost = _lost(log, restored, note.end)
    except (VoicelogError, OSError) as error:
        return BackupProof(note=note, there=True, fault=str(error).rstrip("."))
    if lost:
        return BackupProof(note=note, there=True, fault=f"{lost} events that it had are not in it")
    proven = note.model_copy(update={"proven_at": log.now()})
    _write(log.folder, tuple(proven if one == note else one for one in _notes(log.folder)))
    return BackupProof(note=proven, there=True, recordings=done.recordings, events=done.events)


# --- within -----------------------------------------------------------------------------


def _lost(log: Log, restored: Log, end: ChainEnd) -> int:
    """How many events that were linked by then, and are there still, are not in the other log. A
    backup gives back the hearing that is shown; another one of the same sound is in the share."""
    query = (
        "SELECT body FROM events WHERE seq IN "
        "(SELECT ref FROM chain WHERE kind = 'event' AND seq <= ?) "
        "AND id NOT IN (SELECT id FROM hidden_events) "
        "AND (about IS NULL OR about NOT IN (SELECT id FROM hidden_events))"
    )
    with log.reading() as here, restored.reading() as there:
        if not chain.holds(here, end):
            return 0  # the log is not what it was, which is told; nothing can be asked of it
        have = set(there.exec_driver_sql("SELECT body FROM events").scalars())
        found = here.exec_driver_sql(query, (end.links,)).scalars()
        return sum(body not in have for body in found)


def _notes(folder: Path) -> tuple[BackupNote, ...]:
    try:
        return _NOTES.validate_json((folder / BACKUPS_FILE).read_bytes())
    except (OSError, ValidationError):
        return ()


def _write(folder: Path, notes: tuple[BackupNote, ...]) -> None:
    part = folder / f"{BACKUPS_FILE}.part"
    try:
        part.write_bytes(_NOTES.dump_json(notes[:_MOST], indent=1) + b"\n")
        part.chmod(0o600)
        part.replace(folder / BACKUPS_FILE)
    except OSError:
        return
