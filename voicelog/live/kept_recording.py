"""What a live session keeps: its sound in a growing file, its events in the log.

A disk that refuses stops neither: both then wait in memory, in order, and are written when it
takes them again. What is not on disk at the end is left for `voicelog listen --resume`.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from voicelog.app.commit import BufferedCommit
from voicelog.app.live_files import finish_live_recording, live_file, live_folder
from voicelog.audio.recorder import Pcm, Recorder, read_pcm
from voicelog.model import Event, VoicelogError
from voicelog.store import Log, Recording
from voicelog.store.errors import LogError

__all__ = ["KeptRecording"]


class KeptRecording:
    """One recording on its way to the disk. `events` are all of it, on disk or waiting.

    `write` comes from the capture thread, all else from the session's own.
    """

    def __init__(self, log: Log, recording: str) -> None:
        self.events: list[Event] = []
        self._log = log
        self._path = live_file(log, recording)
        self._commits = BufferedCommit(log, recording)
        self._recorder: Recorder | None = None

    @property
    def trouble(self) -> str | LogError | None:
        """Why the disk does not take sound or events; None when the last try succeeded."""
        recording = self._recorder.trouble if self._recorder is not None else None
        return recording or self._commits.trouble

    @property
    def waiting(self) -> int:
        """How many commits are in memory only."""
        return self._commits.waiting

    @property
    def unsaved_s(self) -> float:
        """Seconds of sound that are in memory only."""
        return self._recorder.unsaved_s if self._recorder is not None else 0.0

    def open(self, started_at: datetime) -> None:
        """Make the file. Raises VoicelogError where it cannot be made; nothing is left then."""
        try:
            live_folder(self._log)
            self._recorder = Recorder(self._path, started_at)
        except OSError as error:
            raise VoicelogError(
                f"Found no way to record into {self._path.parent} ({error.strerror}), wanted room "
                "and the right to write there; free some space, or choose another --data-dir."
            ) from error

    def begin(self, recording: Recording) -> None:
        """Take the recording into the log, or say again what is known of it by now. Raises
        LogError where the log refuses it."""
        self._commits.begin(recording)

    def write(self, pcm: Pcm) -> None:
        """Add samples (int16, mono, at RATE) to the file; never raises, see `trouble`."""
        if self._recorder is not None:
            self._recorder.write(pcm)

    def sound(self) -> Pcm:
        """All the sound that is in the file by now: int16, mono, at RATE."""
        return read_pcm(self._path)

    def commit(self, events: Sequence[Event]) -> bool:
        """Commit events together; whether they, and all before them, are on disk."""
        on_disk = self._commits.append(events)
        self.events += events
        return on_disk

    def retry(self) -> None:
        """Try to write the events that wait."""
        self._commits.retry()

    def close(self) -> None:
        """Write what waits of the sound, and let go of the file."""
        if self._recorder is not None:
            self._recorder.close()

    def discard(self) -> None:
        """Remove the file, of a recording in which nothing came."""
        self._path.unlink(missing_ok=True)

    def all_on_disk(self) -> bool:
        """Try once more to write what waits; whether nothing of it is in memory only."""
        sound_failed = self._recorder is not None and self._recorder.trouble
        return not sound_failed and self._commits.retry()

    def store(self) -> None:
        """Move the sound into the log and mark the recording complete; see
        `finish_live_recording`."""
        finish_live_recording(self._commits, self._path)
