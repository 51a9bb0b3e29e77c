"""A command of voicelog as a process of its own: started, looked at and stopped from elsewhere.

It goes on when who started it ends. That one is at work is told by its lock, and which process it
is by a file beside that; what it prints, where this started it, is kept in a file until the next.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from threading import Lock
from typing import IO

from voicelog.model import UsageError
from voicelog.report.words import clean
from voicelog.store.errors import translate_errors
from voicelog.store.file_lock import is_locked
from voicelog.store.log_lock import known_key, passphrase_environment

__all__ = ["FACE_NAME", "CommandProcess", "voicelog_command"]

FACE_NAME = "VOICELOG_FACE"
"""The variable that tells such a process that what it prints is read on the page."""
_LAST = 14
"""Lines that are shown."""
_LONGEST = 64 * 1024
"""Bytes of what it printed that are read."""


def voicelog_command(name: str) -> tuple[str, ...]:
    """What starts the command of that `name`."""
    return (sys.executable, "-c", "from voicelog.cli import main; main()", name)


class CommandProcess:
    """One process at a time for the log in `folder`. `command` is what starts it, `name` begins the
    names of its files: it holds the lock of NAME.lock, writes its number into NAME.pid, and what it
    prints is in NAME.txt. `already` is said where one is at work, `soft` is the signal that ends
    it."""

    def __init__(
        self,
        folder: Path,
        name: str,
        command: Sequence[str],
        already: str,
        soft: int = signal.SIGTERM,
    ) -> None:
        self.folder, self._command, self._already = folder, tuple(command), already
        self._lock, self._pid = folder / f"{name}.lock", folder / f"{name}.pid"
        self._said, self._soft = folder / f"{name}.txt", soft
        self._started: subprocess.Popen[bytes] | None = None
        self._begun = False
        self._memory: int | None = None
        self._one = Lock()

    @property
    def at_work(self) -> bool:
        """Whether one is at work, whoever started it."""
        return is_locked(self._lock)

    def run(self, options: Sequence[str]) -> None:
        """Start one with these options.

        Raises:
            UsageError: one is at work.
            LogError: what it prints cannot be written.
        """
        with self._one:
            running = self._started is not None and self._started.poll() is None
            if self.at_work or running:
                raise UsageError(self._already)
            self._begun = False
            with self._output() as out:
                self._started = subprocess.Popen(
                    [*self._command, *options, f"--data-dir={self.folder}"],
                    stdin=subprocess.DEVNULL,
                    stdout=out,
                    stderr=subprocess.STDOUT,
                    start_new_session=True,  # it goes on when the page is closed
                    env=os.environ | {FACE_NAME: "page"} | passphrase_environment(self.folder),
                    creationflags=getattr(subprocess, "CREATE_NEW_PROCESS_GROUP", 0),
                )

    def stop(self) -> bool:
        """End the one at work as Ctrl-C does; whether one was."""
        number = self._number()
        if number is None or not self.at_work:
            return False
        os.kill(number, getattr(signal, "CTRL_BREAK_EVENT", self._soft))  # the first on Windows
        return True

    def standing(self) -> tuple[bool, bool, bool]:
        """Whether one is at work; whether one that this started is starting, or ending."""
        with self._one:
            running = self._started is not None and self._started.poll() is None
            at_work = self.at_work
            self._begun = self._begun or at_work
            idle = running and not at_work
            return at_work, idle and not self._begun, idle and self._begun

    def lines(self, *, at_work: bool) -> tuple[str, ...]:
        """What was printed last, where it is of the one `at_work`, or of the last one."""
        try:
            if (
                self._memory is None
                and at_work
                and self._said.stat().st_mtime < self._pid.stat().st_mtime - 60.0
            ):
                return ()  # that one was started in a terminal, and prints there
            if self._memory is not None:
                start = max(0, os.fstat(self._memory).st_size - _LONGEST)
                text = os.pread(self._memory, _LONGEST, start).decode("utf-8", "replace")
            else:
                with self._said.open("rb") as file:
                    file.seek(max(0, self._said.stat().st_size - _LONGEST))
                    text = file.read().decode("utf-8", "replace")
        except OSError:
            return ()
        return tuple(line for line in map(clean, text.splitlines()) if line)[-_LAST:]

    # --- within --------------------------------------------------------------------------

    def _output(self) -> IO[bytes]:
        """Where what is started prints. That is of the log: where the log is locked it stays in
        memory, or, where the system has no such file, is not kept."""
        if not known_key(self.folder):
            with translate_errors(self._said):
                return self._said.open("wb")
        if self._memory is not None:
            os.close(self._memory)
        self._memory = os.memfd_create(self._said.name) if sys.platform == "linux" else None
        return open(os.devnull if self._memory is None else os.dup(self._memory), "wb")

    def _number(self) -> int | None:
        try:
            return int(self._pid.read_text(encoding="ascii"))
        except (OSError, ValueError):
            return None
