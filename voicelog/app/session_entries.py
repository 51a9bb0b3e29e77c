"""Which entries are read together with a session, the same on every paper, page and count."""

from __future__ import annotations

from voicelog.model import EntryOutput, RecordingOutput

__all__ = ["entries_of"]


def entries_of(line: RecordingOutput, session: str | None) -> tuple[EntryOutput, ...]:
    """What is read together with a session: its entries, and sound before or after any. `line` is a
    recording as derived.

    Sound outside every session goes with the next one, or with the last. None asks for what
    belongs to no session, which is all of it in a recording without sessions.
    """
    starts = [(one.start_s, one.id) for one in line.sessions]

    def place(entry: EntryOutput) -> str | None:
        if not starts:
            return None
        return next((name for at, name in starts if at >= entry.start_s), starts[-1][1])

    return tuple(
        [
            entry
            for entry in line.entries
            if (place(entry) if entry.session is None else entry.session) == session
        ]
    )
