"""The live session as a process of its own: started, looked at and stopped from elsewhere.

It is `voicelog listen`, whoever starts it, and goes on when who started it ends: a closed page
costs no session. That one is at work is told by its lock, and which process it is by a file beside
that; what it prints, where this started it, is kept in a file until the next.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from threading import Lock
from typing import IO

from voicelog.app.open_file import named_dogs
from voicelog.app.resume import interrupted_recordings
from voicelog.model import UsageError
from voicelog.report.listening_words import ALREADY, NO_DOGS, NOT_AT_WORK
from voicelog.report.words import clean
from voicelog.store import Log
from voicelog.store.errors import translate_errors
from voicelog.store.file_lock import is_locked
from voicelog.store.log_lock import known_key, passphrase_environment

__all__ = [
    "FACE_NAME",
    "LOCK_NAME",
    "PID_NAME",
    "ListeningRequest",
    "ListeningState",
    "LiveProcess",
]

LOCK_NAME = "listening.lock"
"""The file in the log's folder whose lock a live session holds."""
PID_NAME = "listening.pid"
"""The file in which a live session writes the number of its process."""
FACE_NAME = "VOICELOG_FACE"
"""The variable that tells a live session that what it prints is read at the page."""
SAID_NAME = "listening.txt"
_COMMAND = (sys.executable, "-c", "from voicelog.cli import main; main()", "listen")
_LAST = 14
"""Lines that are shown."""
_LONGEST = 64 * 1024
"""Bytes of what it printed that are read."""


@dataclass(frozen=True, slots=True)
class ListeningRequest:
    """How a live session is to listen and speak; what is empty is as `voicelog listen` has it."""

    dogs: tuple[str, ...] = ()
    device: str = ""
    output: str = ""
    side: str = "left"
    replies: str = "doubtful"
    earpiece: bool = False
    who: str = ""

    @property
    def options(self) -> list[str]:
        """As options of the command, each with its value, so that no value is taken for one."""
        named = {"device": self.device, "output": self.output, "as": self.who}
        return [
            "--plain",
            f"--side={self.side}",
            f"--say={self.replies}",
            *(["--earpiece"] if self.earpiece else []),
            *(f"--{name}={value}" for name, value in named.items() if value),
            *(f"--dog={dog}" for dog in self.dogs),
        ]


@dataclass(frozen=True, slots=True)
class ListeningState:
    """How it stands: `at_work`, `starting` or `ending` (one that this program started), its last
    lines, oldest first, and how many recordings were cut short before."""

    at_work: bool
    starting: bool
    ending: bool
    lines: tuple[str, ...]
    cut_short: int


class LiveProcess:
    """The live session of a log's `folder`. `command` is what starts it."""

    def __init__(self, folder: Path, command: Sequence[str] = _COMMAND) -> None:
        self.folder, self._command = folder, tuple(command)
        self._started: subprocess.Popen[bytes] | None = None
        self._begun = False
        self._memory: int | None = None
        self._one = Lock()

    def start(self, log: Log, asked: ListeningRequest) -> None:
        """Start one.

        Raises:
            UsageError: one is at work, or there is no dog that could be named.
            LogError: what it prints cannot be written.
        """
        if not log.roster().dogs:
            raise UsageError(NO_DOGS)
        named_dogs(log.roster(), asked.dogs, strangers=False)
        self._run(asked.options)

    def resume(self) -> None:
        """Complete what was cut short, in the same way. Raises UsageError while one is at work."""
        self._run(["--resume"])

    def stop(self) -> None:
        """End it as Ctrl-C does, and nothing is lost. Raises UsageError where none is at work."""
        number = self._number()
        if number is None or not is_locked(self.folder / LOCK_NAME):
            raise UsageError(NOT_AT_WORK)
        os.kill(number, getattr(signal, "CTRL_BREAK_EVENT", signal.SIGTERM))  # the first on Windows

    def state(self, log: Log) -> ListeningState:
        """How it stands now. `log` is asked for what was cut short."""
        with self._one:
            running = self._started is not None and self._started.poll() is None
            at_work = is_locked(self.folder / LOCK_NAME)
            self._begun = self._begun or at_work
            idle = running and not at_work
            starting, ending = idle and not self._begun, idle and self._begun
        cut_short = 0 if at_work or running else len(interrupted_recordings(log))
        return ListeningState(at_work, starting, ending, self._lines(at_work), cut_short)

    # --- within --------------------------------------------------------------------------

    def _run(self, options: Sequence[str]) -> None:
        with self._one:
            if is_locked(self.folder / LOCK_NAME) or (
                self._started is not None and self._started.poll() is None
            ):
                raise UsageError(ALREADY)
            self._begun = False
            with self._said() as out:
                self._started = subprocess.Popen(
                    [*self._command, *options, f"--data-dir={self.folder}"],
                    stdin=subprocess.DEVNULL,
                    stdout=out,
                    stderr=subprocess.STDOUT,
                    start_new_session=True,  # it goes on when the page is closed
                    env=os.environ | {FACE_NAME: "page"} | passphrase_environment(self.folder),
                    creationflags=getattr(subprocess, "CREATE_NEW_PROCESS_GROUP", 0),
                )

    def _said(self) -> IO[bytes]:
        """Where a session that is started prints. What it prints is of the log: where that is
        locked it stays in memory, or, where the system has no such file, is not kept."""
        said = self.folder / SAID_NAME
        if not known_key(self.folder):
            with translate_errors(said):
                return said.open("wb")
        if self._memory is not None:
            os.close(self._memory)
        self._memory = os.memfd_create(SAID_NAME) if sys.platform == "linux" else None
        return open(os.devnull if self._memory is None else os.dup(self._memory), "wb")

    def _number(self) -> int | None:
        try:
            return int((self.folder / PID_NAME).read_text(encoding="ascii"))
        except (OSError, ValueError):
            return None

    def _lines(self, at_work: bool) -> tuple[str, ...]:
        """What was printed last, where it is of the session at work, or of the last one."""
        said = self.folder / SAID_NAME
        try:
            if (
                self._memory is None
                and at_work
                and said.stat().st_mtime < (self.folder / PID_NAME).stat().st_mtime - 60.0
            ):
                return ()  # that one was started in a terminal, and prints there
            if self._memory is not None:
                start = max(0, os.fstat(self._memory).st_size - _LONGEST)
                text = os.pread(self._memory, _LONGEST, start).decode("utf-8", "replace")
            else:
                with said.open("rb") as file:
                    file.seek(max(0, said.stat().st_size - _LONGEST))
                    text = file.read().decode("utf-8", "replace")
        except OSError:
            return ()
        return tuple(line for line in map(clean, text.splitlines()) if line)[-_LAST:]
