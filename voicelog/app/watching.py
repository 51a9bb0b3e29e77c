"""The folder that is watched for the page: chosen there, watched by a process of its own while the
page is served, and known again when it is next started.

What is on disk is the choice and what became of the newest files. It spares nobody a question: what
is in the log, the log says.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

from voicelog.app.open_file import lasting_options
from voicelog.app.open_log import open_log
from voicelog.app.own_process import OwnProcess
from voicelog.app.session_catalog import SessionCatalog
from voicelog.app.state_file import read_state, write_state
from voicelog.app.watch import FolderWatch, NoFolderError
from voicelog.app.watch_state import state_folder
from voicelog.model import FrozenModel, UsageError, VoicelogError
from voicelog.model.watching import WatchOutcome
from voicelog.report.changes import changes_elsewhere
from voicelog.report.watched_words import INSIDE_LOG, watched_words
from voicelog.store.file_lock import file_lock, is_locked

__all__ = ["WatchNote", "WatchingProcess", "WatchingState", "watch_chosen"]

_LOCK = "watching.lock"
_STATE = "watch-chosen.json"
SETTLE_S = 10.0
"""How long a file has to stay as it is to be whole, s; as `voicelog watch` has it."""
EVERY_S = 5.0
"""How often is looked, s."""
NOTES = 60
"""Files of which is kept what became of them; and changes in other sessions."""


class WatchNote(FrozenModel):
    """What became of a file, by its name within the folder, in words."""

    name: str
    outcome: WatchOutcome
    words: str


class WatchingState(FrozenModel):
    """The folder that is watched, what became of its newest files, the newest first, what that
    changed in sessions that were there before (`changed`, a sentence each, the newest first), how
    many files are not whole yet, and what is in the way of looking (`trouble`, a sentence or
    empty)."""

    folder: str
    notes: tuple[WatchNote, ...] = ()
    changed: tuple[str, ...] = ()
    arriving: int = 0
    trouble: str = ""

    def noted(self, note: WatchNote) -> WatchingState:
        """The same with what became of one more file."""
        others = [one for one in self.notes if one.name != note.name]
        return self.model_copy(update={"notes": (note, *others)[:NOTES]})


class WatchingProcess:
    """The watch of one folder for the log in `folder`."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._process = OwnProcess(_watch, folder)

    def start(self, watched: Path) -> None:
        """Watch that folder from now on, and no other.

        Raises:
            NoFolderError: it is not there.
            UsageError: it is the log's own.
            LogError: as the disk refuses.
        """
        watched = watched.expanduser()
        if not watched.is_absolute() or not watched.is_dir():
            raise NoFolderError(watched)
        if watched.resolve() == self.folder.resolve():
            raise UsageError(INSIDE_LOG)
        self.stop()
        _write(self.folder, WatchingState(folder=str(watched)))
        self.wake()

    def wake(self) -> None:
        """See that the chosen folder is looked at, where one is chosen."""
        self._process.start(lambda: self.state() is not None and not self.at_work)

    def stop(self) -> None:
        """Watch no folder any more; what came stays in the log."""
        self.close()
        (state_folder(self.folder) / _STATE).unlink(missing_ok=True)

    @property
    def at_work(self) -> bool:
        """Whether a program looks at it."""
        return is_locked(self.folder / _LOCK)

    def state(self) -> WatchingState | None:
        """The chosen folder and what became of its files; None where none is chosen."""
        return _read(self.folder)

    def close(self) -> None:
        """End the looking; the choice stays."""
        self._process.close()


def watch_chosen(folder: Path, pause: Callable[[], bool], settle_s: float = SETTLE_S) -> None:
    """Look at the folder chosen for the log in `folder`, until `pause`, which is called between two
    looks, says no, or no folder is chosen; nothing where another program does.

    Args:
        settle_s: how long a file has to stay as it is to be whole, s.
    """
    with file_lock(folder / _LOCK) as free:
        watched: FolderWatch | None = None
        with open_log(folder) as log:
            while free and (state := _read(folder)) is not None:
                try:
                    if watched is None:
                        place = Path(state.folder)
                        watched = FolderWatch(
                            log, place, lambda: lasting_options(log), settle_s=settle_s
                        )
                    heard = False
                    for found in watched.look():
                        note = WatchNote(
                            name=found.name, outcome=found.outcome, words=watched_words(found)
                        )
                        state = _write(folder, state.noted(note))
                        heard |= found.outcome == "heard"
                    if heard:
                        others = changes_elsewhere(SessionCatalog(log).refresh_noting())
                        state = state.model_copy(
                            update={"changed": (*others, *state.changed)[:NOTES]}
                        )
                        _write(folder, state)
                    now = {"arriving": watched.arriving, "trouble": ""}
                except VoicelogError as error:
                    now = {"arriving": 0, "trouble": str(error)}
                new = state.model_copy(update=now)
                if new != state:
                    _write(folder, new)
                if not pause():
                    return


# --- within -----------------------------------------------------------------------------


def _watch(folder: Path) -> None:
    def pause() -> bool:
        time.sleep(EVERY_S)
        return True

    watch_chosen(folder, pause)


def _read(folder: Path) -> WatchingState | None:
    return read_state(state_folder(folder) / _STATE, WatchingState)


def _write(folder: Path, state: WatchingState) -> WatchingState:
    return write_state(folder, state_folder(folder) / _STATE, state)
