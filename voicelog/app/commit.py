"""The commit protocol: how anything gets into the log, whatever it comes from.

A recording, in three steps:

1. `begin`: its row, not complete. Sound that is whole by then is kept before.
2. `append`: each batch of events, in order. What is said to have been kept is on disk.
3. `finish`: sound that grew meanwhile is kept, then the row is marked complete.

A kill between any two of them leaves a recording that is not complete; done again from the
start, with what it was begun with, it comes out as if nothing had happened.

A change of a recording that is there (a person's edit, a second hearing, a date) is one step,
`commit_change`. Nobody else writes events (a test holds that).
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from voicelog.app.session_catalog import SessionCatalog
from voicelog.model import Event, Roster, SoundLevel
from voicelog.store import (
    DiskFullError,
    FileAccessError,
    Log,
    LogBusyError,
    LogPermissionError,
    Recording,
    StoredRecording,
)
from voicelog.store.errors import LogError
from voicelog.store.sound_files import sha256_of

__all__ = ["BufferedCommit", "RecordingCommit", "commit_change"]

_MAY_PASS = (DiskFullError, FileAccessError, LogBusyError, LogPermissionError)


def commit_change(
    log: Log,
    recording: str,
    events: Sequence[Event],
    *,
    seen: int | None = None,
    roster: Roster | None = None,
) -> None:
    """Change a recording that is there: all of it, or nothing; on disk when this returns.

    Args:
        log: the log that it is in.
        recording: its id.
        events: what to add; one that is there already is passed over.
        seen: the number of its newest event that the change rests on, None where it rests on none.
        roster: the names and cues that it is read with from now on, where it is complete; None
            leaves them.

    Raises:
        ConcurrentChangeError: the recording has newer events than were seen.
        EventConflictError, UnknownTargetError: as `Log.append`.
    """
    log.append(events, seen=None if seen is None else (recording, seen))
    kept = log.recording(recording) if roster is not None else None
    if kept is not None and kept.complete and kept.roster != roster:
        log.finish_recording(recording, roster=roster)


class RecordingCommit:
    """The way of one recording into a log. Every step raises LogError where it is refused."""

    def __init__(self, log: Log, recording: str) -> None:
        self._log, self._recording = log, recording

    def begin(self, recording: Recording, sound: Path | None = None) -> bool:
        """Take the recording in, before its events; whether it was not there, complete, already.

        Begun again while it is not complete, its row becomes `recording` and its events stay.
        `sound` is a file that holds all of it, whose hash is `recording.sha256`.

        Raises:
            DeletedError: it was deleted from this log.
            SetAsideError: what the file brought does not derive.
        """
        if sound is not None:
            kept = self._log.store_sound(sound, str(recording.sha256), self._recording)
            recording = recording.model_copy(update={"sound": self._place(kept)})
            row = StoredRecording(**dict(recording), added_at=self._log.now(), complete=False)
            SessionCatalog(self._log).trial(row, ())
        return self._log.begin_recording(recording)

    def append(self, events: Sequence[Event]) -> bool:
        """Commit events together; whether they, and all before them, are on disk."""
        self._log.append(events)
        return True

    def finish(self, duration_s: float, level: SoundLevel, *, sound: Path | None = None) -> None:
        """Mark the recording complete, with its length (s) and its level. `sound` is the file
        that grew until now; it is copied."""
        if sound is None:
            self._log.finish_recording(self._recording, duration_s=duration_s, level=level)
            return
        sha256 = sha256_of(sound)
        kept = self._log.store_sound(sound, sha256)
        self._log.finish_recording(
            self._recording,
            sha256=sha256,
            sound=self._place(kept),
            duration_s=duration_s,
            level=level,
        )

    def _place(self, kept: Path) -> str:
        return self._log.place(kept)


class BufferedCommit(RecordingCommit):
    """The same for what cannot be asked for again: it goes on in memory while the disk refuses.

    Nothing is dropped: what could not be written waits, in order, and is written first when the
    disk takes it again. Until then `append` says False. `trouble` is why, None where all is well.
    """

    def __init__(self, log: Log, recording: str) -> None:
        super().__init__(log, recording)
        self._waiting: list[Sequence[Event]] = []
        self.trouble: LogError | None = None

    @property
    def waiting(self) -> int:
        """How many commits are in memory only."""
        return len(self._waiting)

    def append(self, events: Sequence[Event]) -> bool:
        self._waiting.append(tuple(events))
        return self.retry()

    def retry(self) -> bool:
        """Write what waits; whether nothing is left. Mistakes of the program are raised."""
        try:
            while self._waiting:
                super().append(self._waiting[0])
                self._waiting.pop(0)
        except _MAY_PASS as error:
            self.trouble = error
            return False
        self.trouble = None
        return True
