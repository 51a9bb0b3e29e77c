"""A folder into which recordings come by any means, and are taken into the log when they are whole.

One look after another goes through the folder; whoever calls waits between them. Looking again
works alike on a disk, a stick and a network share, of which the last tell nobody when a file comes.
Files are heard one at a time: of two that come together in different codings the second is then
known as the sound of the first. The originals are only read.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from time import monotonic

from voicelog.app.add import add_file, is_begun
from voicelog.app.input_files import is_conflict_copy, recordings_in
from voicelog.app.open_file import IntakeOptions
from voicelog.app.same_sound import SameRecordingError, goes_on
from voicelog.app.watch_arrivals import Arrivals, FileStamp
from voicelog.app.watch_dating import file_dating
from voicelog.app.watch_state import SeenFile, WatchState
from voicelog.audio.errors import (
    EmptyFileError,
    MissingFileError,
    NoSamplesError,
    NoSoundTrackError,
    NotRecordingError,
    StrangeRateError,
    UnfinishedFileError,
)
from voicelog.audio.files import AudioReader, SoundFileInfo
from voicelog.model import UsageError, VoicelogError
from voicelog.model.adding import AddedFile
from voicelog.model.watching import FileDating, WatchedFile, WatchOutcome
from voicelog.store import Log
from voicelog.store.errors import DeletedError
from voicelog.store.sound_files import sha256_of

__all__ = ["FolderWatch", "NoFolderError"]

OPEN_END_S = 60.0
"""How long a file has to stay as it is whose format does not say where it ends, s: there a pause in
the copying looks like the end."""
RETRY_S = 60.0
"""After how long what could not be taken in is tried again, s."""
_NO_RECORDING = (
    EmptyFileError, NoSamplesError, NoSoundTrackError, NotRecordingError, StrangeRateError,
)  # fmt: skip


class NoFolderError(UsageError):
    """There is no folder to watch; a stick or share may not be there now."""

    def __init__(self, folder: Path) -> None:
        super().__init__(
            f"Found no folder {folder}, wanted one to watch; correct the name, or plug in what it "
            "is on."
        )
        self.folder = folder


class FolderWatch:
    """The looks at one folder.

    Args:
        log: where its recordings go.
        folder: what is watched, with the folders in it. The log's own folder is passed over.
        options: how a recording is to be heard, asked before each, so that a dog that was put on
            the roster meanwhile is known.
        settle_s: how long a file has to stay as it is to be whole, s.
        clock: seconds that only go forward.

    Raises:
        NoFolderError: it is not there.
    """

    def __init__(
        self,
        log: Log,
        folder: Path,
        options: Callable[[], IntakeOptions],
        *,
        settle_s: float,
        clock: Callable[[], float] = monotonic,
    ) -> None:
        if not folder.is_dir():
            raise NoFolderError(folder)
        self._log, self._folder, self._options, self._clock = log, folder, options, clock
        self._state = WatchState(log.folder, folder)
        self._arrivals = Arrivals(settle_s)
        self._again: dict[str, tuple[float, str]] = {}
        self.arriving = 0
        """Files of the last look that may come in by themselves: not whole yet, or to be tried
        again."""

    @property
    def asked(self) -> tuple[WatchedFile, ...]:
        """Files that a person has to say something of before they come in, as they were told."""
        return tuple(
            WatchedFile(name, seen.outcome, reason=seen.reason)
            for name, seen in self._state.files.items()
            if seen.outcome in ("asked", "grown", "conflict")
            and not (seen.sha256 and self._is_there(seen.sha256))
        )

    def look(self) -> Iterator[WatchedFile]:
        """Look once, and take in what is whole; what became of each file, as it is done. A file
        of which nothing new is to be said is not among them.

        Raises:
            NoFolderError: the folder is not there now; what was seen in it is still known.
        """
        stamps = self._stamps()
        names = {path: self._name(path) for path in stamps}
        self._state.keep_only(set(names.values()))
        new = {
            path: stamp
            for path, stamp in stamps.items()
            if (seen := self._state.files.get(names[path])) is None or seen.stamp != stamp
        }
        steady = self._arrivals.look(self._clock(), new)
        self.arriving = len(new)
        try:
            yield from self._took(steady, names, new)
        finally:
            self._state.save()

    def _took(
        self, steady: dict[Path, float], names: dict[Path, str], new: dict[Path, FileStamp]
    ) -> Iterator[WatchedFile]:
        for path, steady_s in steady.items():
            name = names[path]
            due_s, told = self._again.get(name, (0.0, ""))
            if self._clock() < due_s:
                continue
            found = self._taken(path, name, new[path], steady_s)
            if found is None:
                continue
            if found.outcome == "waits":
                self._again[name] = (self._clock() + RETRY_S, found.reason)
                if found.reason == told:
                    continue
            else:
                self._again.pop(name, None)
                self.arriving -= 1
            if found.outcome == "heard":
                self._state.save()
            yield found

    def _stamps(self) -> dict[Path, FileStamp]:
        if not self._folder.is_dir():
            raise NoFolderError(self._folder)
        stamps = {}
        for path in recordings_in(self._folder, self._log.folder):
            try:
                status = path.stat()
            except OSError:
                continue  # it is gone again
            stamps[path] = FileStamp(status.st_size, status.st_mtime_ns)
        return stamps

    def _name(self, path: Path) -> str:
        name = path.relative_to(self._folder).as_posix()
        return name if name.isprintable() else ascii(name)

    def _taken(
        self, path: Path, name: str, stamp: FileStamp, steady_s: float
    ) -> WatchedFile | None:
        """What became of a steady file; None where it has to stay as it is for longer, or is
        gone."""

        sha256: str | None = None

        def settled(outcome: WatchOutcome, reason: str = "") -> WatchedFile:
            seen = SeenFile(
                size=stamp.size,
                mtime_ns=stamp.mtime_ns,
                outcome=outcome,
                sha256=sha256,
                reason=reason,
            )
            self._state.put(name, seen)
            return WatchedFile(name, outcome, reason=reason)

        try:
            sha256 = sha256_of(path)
            if self._is_there(sha256):
                return settled("there")
            if is_conflict_copy(path):
                return settled("conflict")
            info = _read_through(path)
            if info.truncated:
                return settled("cut")
            if not info.announces_end and steady_s < OPEN_END_S:
                return None
            if not is_begun(self._log, path) and goes_on(self._log, path, info.duration_s or 0.0):
                return settled("grown")
            added, dating = self._heard(path, stamp, info)
            settled("heard")
            return WatchedFile(name, "heard", added, dating)
        except (MissingFileError, FileNotFoundError):
            return None
        except UnfinishedFileError as error:
            return settled("cut", str(error))
        except SameRecordingError as error:
            return settled("asked", str(error))
        except DeletedError as error:
            return settled("deleted", str(error))
        except _NO_RECORDING as error:  # or not yet: its place may be taken before it is filled
            return settled("no recording", str(error)) if steady_s >= OPEN_END_S else None
        except (VoicelogError, OSError) as error:
            return WatchedFile(name, "waits", reason=str(error))

    def _heard(
        self, path: Path, stamp: FileStamp, info: SoundFileInfo
    ) -> tuple[AddedFile, FileDating]:
        changed = datetime.fromtimestamp(stamp.mtime_ns / 1e9).astimezone()
        now = self._log.now()
        dating = file_dating(info.started_at, path.name, changed, info.duration_s or 0.0, now)
        at = None if dating.by in ("tags", "nothing") else dating.started_at
        return add_file(self._log, path, replace(self._options(), at=at)), dating

    def _is_there(self, sha256: str) -> bool:
        return any(one.complete for one in self._log.of_content(sha256))


def _read_through(path: Path) -> SoundFileInfo:
    """What is known of a file that was read to its end, so that a cut is noticed."""
    with AudioReader(path) as reader:
        for _ in reader:
            pass
        return reader.recording
