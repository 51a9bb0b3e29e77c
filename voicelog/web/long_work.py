"""Work of minutes that the page starts: one at a time, in a thread of its own, with how far it is
and what came of it. It goes on when its page is left, and ends with the program."""

from __future__ import annotations

import traceback
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from threading import Event, Lock, Thread

from voicelog.model import UsageError, VoicelogError
from voicelog.report.incoming_words import inside_words
from voicelog.report.work_words import ANOTHER_AT_WORK, BEGUN, STOPPED_WORK

__all__ = ["LongWork", "WorkLine", "WorkStatus", "WorkStoppedError"]

WorkLine = tuple[str, bool]
"""A line of what came of it, and whether that is as it should be."""


class WorkStoppedError(VoicelogError):
    """A work that was stopped by whoever started it."""

    def __init__(self) -> None:
        super().__init__(STOPPED_WORK)


@dataclass(frozen=True, slots=True)
class WorkStatus:
    """Which work it is (`kind`; empty: none yet), whether it is at work (`busy`), how far it is in
    words and from 0 to 1 (None: not known), and its lines so far."""

    kind: str = ""
    busy: bool = False
    words: str = ""
    part: float | None = None
    lines: tuple[WorkLine, ...] = ()


class LongWork:
    """The work of one page."""

    def __init__(self) -> None:
        self._status = WorkStatus()
        self._one = Lock()
        self._stop = Event()

    @property
    def status(self) -> WorkStatus:
        """How it stands now."""
        return self._status

    @property
    def stopping(self) -> bool:
        """Whether it was to stop."""
        return self._stop.is_set()

    def start(self, kind: str, deed: Callable[[], Iterable[WorkLine]]) -> None:
        """Do it; `deed` gives its lines as they come, and says with `show` how far it is.

        Raises:
            UsageError: another is at work.
        """
        with self._one:
            if self._status.busy:
                raise UsageError(ANOTHER_AT_WORK)
            self._stop.clear()
            self._status = WorkStatus(kind, busy=True, words=BEGUN)
        Thread(target=self._do, args=(deed,), name=kind, daemon=True).start()

    def stop(self) -> None:
        """Let it end where it next says how far it is."""
        self._stop.set()

    def show(self, words: str, part: float | None = None) -> None:
        """Say how far it is.

        Raises:
            WorkStoppedError: it was to stop.
        """
        if self._stop.is_set():
            raise WorkStoppedError()
        with self._one:
            self._status = replace(self._status, words=words, part=part)

    def _do(self, deed: Callable[[], Iterable[WorkLine]]) -> None:
        try:
            for line in deed():
                self._add(line)
        except VoicelogError as error:
            self._add((str(error), False))
        except Exception as error:  # a mistake of the program: its trace goes to the terminal
            traceback.print_exc()
            self._add((inside_words(type(error).__name__), False))
        finally:
            with self._one:
                self._status = replace(self._status, busy=False, words="", part=None)

    def _add(self, line: WorkLine) -> None:
        with self._one:
            self._status = replace(self._status, lines=(*self._status.lines, line))
