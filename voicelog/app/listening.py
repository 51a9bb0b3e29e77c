"""The live session as a process of its own: started, looked at and stopped from elsewhere.

It is `voicelog listen`, whoever starts it, and goes on when who started it ends: a closed page
costs no session.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from voicelog.app.command_process import CommandProcess, voicelog_command
from voicelog.app.open_file import named_dogs
from voicelog.app.resume import interrupted_recordings
from voicelog.model import UsageError
from voicelog.report.listening_words import ALREADY, NO_DOGS, NOT_AT_WORK
from voicelog.store import Log

__all__ = ["LOCK_NAME", "PID_NAME", "ListeningRequest", "ListeningState", "LiveProcess"]

LOCK_NAME = "listening.lock"
"""The file in the log's folder whose lock a live session holds."""
PID_NAME = "listening.pid"
"""The file in which a live session writes the number of its process."""


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

    def __init__(self, folder: Path, command: Sequence[str] = voicelog_command("listen")) -> None:
        self.folder = folder
        self._process = CommandProcess(folder, "listening", command, ALREADY)

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
        if not self._process.stop():
            raise UsageError(NOT_AT_WORK)

    def state(self, log: Log) -> ListeningState:
        """How it stands now. `log` is asked for what was cut short."""
        at_work, starting, ending = self._process.standing()
        idle = not (at_work or starting or ending)
        cut_short = len(interrupted_recordings(log)) if idle else 0
        lines = self._process.lines(at_work=at_work)
        return ListeningState(at_work, starting, ending, lines, cut_short)

    def _run(self, options: Sequence[str]) -> None:
        self._process.run(options)
