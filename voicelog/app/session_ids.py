"""Session ids that were given earlier, and what became of them.

The id of a session is that of the note that begins it. Once that note is taken back, or one before
it is understood, another note begins the session: who comes back with the id that was printed has
to find it all the same.
"""

from __future__ import annotations

from voicelog.app.session_catalog import SessionCatalog
from voicelog.model.contract import EntryOutput

__all__ = ["session_id_now"]


def session_id_now(catalog: SessionCatalog, key: str) -> str | None:
    """The id that a session has now of which `key` was the id: of the session in which the note is
    that began it, or, where that note is in none any more, of the one that began after it without
    a dog being named, as the same notes do without it. None where nothing tells which it is.
    `catalog` is that of the log.

    Raises:
        SetAsideError: its recording does not derive.
    """
    begun_by, _, number = key.rpartition(".s")
    recording = catalog.log.recording_with(begun_by) if begun_by and number in ("", "1") else None
    if recording is None:
        return None
    catalog.revalidate(recording)
    line = catalog.line(recording)
    entries = {entry.id: entry for entry in line.entries}
    note = entries.get(begun_by)
    if note is not None and note.session is not None:
        return note.session
    at_s = 0.0 if note is None else note.start_s
    for session in line.sessions:
        opener = entries.get(session.id.rpartition(".s")[0])
        if opener is not None and opener.start_s >= at_s and not _names_dog(opener):
            return session.id
    return None


def _names_dog(entry: EntryOutput) -> bool:
    return "session" in entry.kind.split("+")
