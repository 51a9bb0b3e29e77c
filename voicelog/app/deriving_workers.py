"""Recordings derived by other processes, where many are to be: on each core one.

They read the log and write nothing. What they made is taken only where it rests on what is there
now; all else is derived by the process that asks, as it is where there is one core or little to
do. So with and without them the log holds the same.
"""

from __future__ import annotations

import os
from collections import deque
from collections.abc import Callable, Collection, Mapping, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from datetime import datetime
from itertools import islice
from multiprocessing import get_context
from pathlib import Path
from typing import NamedTuple, TypeVar

from voicelog.app.derivation_memo import DerivationMemo
from voicelog.app.parallel import take_keys
from voicelog.app.recording_rows import LoggedSession, RecordingRows
from voicelog.audio.locked_files import folder_keys
from voicelog.model import Event, VoicelogError
from voicelog.store import CacheRow, Log, StoredRecording

__all__ = ["MANY", "DerivingWorkers", "OnTrial", "RowsAhead"]

MANY = 48
"""Recordings from which processes are begun: each takes a second to start."""
MOST = 8
"""Processes, each of which holds some 130 MB."""
_AHEAD = 64
"""How far ahead of the one that is due recordings are given out."""
_LATELY = 16
"""Recordings derived elsewhere of which it is remembered whether that could be taken."""
_NICE = 5
"""How far they stand back for what somebody waits for, as a session that is listened to."""
_TOGETHER = 8
"""Recordings on trial that are given out together, since they share their roster."""

Result = TypeVar("Result")
OnTrial = tuple[StoredRecording, Sequence[Event]]
FailureOf = Callable[[StoredRecording, Sequence[Event]], str | None]
DogsOf = Callable[[Sequence[str]], Mapping[str, Collection[str | None]]]


def _cores() -> int:
    """The cores that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


class RowsAhead(NamedTuple):
    """Rows of a recording that was derived elsewhere, and what they rest on: of each of its
    sessions the dog, when it began, and what stands for the history before it."""

    rows: list[CacheRow]
    histories: list[tuple[str, datetime | None, str]]


class DerivingWorkers:
    """Processes for one log, begun when there is much to do. To be closed."""

    def __init__(self, folder: Path, processes: int | None = None) -> None:
        self._folder = folder
        self._count = min(_cores(), MOST) if processes is None else processes
        self._pool: ProcessPoolExecutor | None = None
        self._held: deque[bool] = deque(maxlen=_LATELY)

    def close(self) -> None:
        """End them. What is given out and not done is not waited for."""
        if self._pool is not None:
            self._pool.shutdown(cancel_futures=True)
        self._pool = None

    def failures(self, given: Sequence[OnTrial], here: FailureOf) -> list[str | None]:
        """Why each does not derive by itself, None where it does; `here` says it in this
        process."""
        if not self._begin(len(given)):
            return [here(*one) for one in given]
        parts = [given[at : at + _TOGETHER] for at in range(0, len(given), _TOGETHER)]
        futures = [self.submit(_failures, part) for part in parts]
        found: list[str | None] = []
        for part, future in zip(parts, futures, strict=True):
            told = self.result(future)
            found += [here(*one) for one in part] if told is None else told
        return found

    def ahead(self, due: Sequence[str], dogs_of: DogsOf) -> Callable[[str], RowsAhead | None]:
        """Derive these recordings before they are asked for, in this order. `dogs_of` tells of
        which dogs each is known to be; one of a dog that others before it are of waits for them,
        since it is checked against what they leave behind. Of unknown dogs (None) it is tried as
        long as that goes well (`note`).

        Returns:
            What gives the rows of the next recording, None where they are to be made here.
        """
        if not self._begin(len(due)):
            return lambda recording: None
        return _DerivedAhead(self, due, dogs_of(due)).take

    def note(self, *, held: bool) -> None:
        """Rows that were derived ahead could be taken, or not, since other ones came before."""
        self._held.append(held)

    @property
    def guesses(self) -> bool:
        """Whether recordings of unknown dogs are given out."""
        return len(self._held) < _LATELY or 2 * sum(self._held) >= _LATELY

    def _begin(self, many: int) -> bool:
        """Whether there are processes, for so many recordings."""
        if self._pool is None and self._count > 1 and many >= MANY:
            self._pool = ProcessPoolExecutor(
                self._count,
                mp_context=get_context("spawn"),
                initializer=_enter,
                initargs=(self._folder, folder_keys()),
            )
        return self._pool is not None

    def submit(self, work: Callable[..., Result], *given: object) -> Future[Result] | None:
        """Give work out; None where nobody is there to do it."""
        try:
            return None if self._pool is None else self._pool.submit(work, *given)
        except RuntimeError:  # the pool is broken: nothing is given out any more
            self._give_up()
            return None

    def result(self, future: Future[Result] | None) -> Result | None:
        """What came of it; None where it is to be done here, and what is wrong met there."""
        try:
            return None if future is None else future.result()
        except Exception:  # one that was killed, or had no memory
            self._give_up()
            return None

    def _give_up(self) -> None:
        if self._pool is not None:
            self._pool.shutdown(wait=False, cancel_futures=True)
        self._pool, self._count = None, 1

    @property
    def width(self) -> int:
        """How many recordings are given out at the same time."""
        return 2 * self._count


class _DerivedAhead:
    """How far the derivation of many recordings is."""

    def __init__(
        self,
        workers: DerivingWorkers,
        due: Sequence[str],
        dogs: Mapping[str, Collection[str | None]],
    ) -> None:
        self._workers, self._dogs = workers, dogs
        self._due = dict.fromkeys(due)
        self._given: dict[str, Future[RowsAhead | None] | None] = {}

    def take(self, recording: str) -> RowsAhead | None:
        """The rows of the next recording. Where nobody has begun it, it is made here, while others
        make what comes after it."""
        given = self._given.pop(recording, None)
        self._give()
        self._due.pop(recording, None)
        return self._workers.result(given)

    def _give(self) -> None:
        before: set[str] = set()
        for place, recording in enumerate(islice(self._due, _AHEAD)):
            if len(self._given) >= self._workers.width:
                return
            dogs = {dog for dog in self._dogs.get(recording, ()) if dog is not None}
            can_be = before.isdisjoint(dogs) and (dogs or self._workers.guesses)
            if place > 0 and can_be and recording not in self._given:
                self._given[recording] = self._workers.submit(_ahead, recording)
            before |= dogs


# --- in such a process ---------------------------------------------------------------------

_here: list[tuple[Log, RecordingRows]] = []


def _enter(folder: Path, keys: Mapping[Path, bytes]) -> None:
    if hasattr(os, "nice"):
        os.nice(_NICE)
    take_keys(keys)
    log = Log.beside(folder)
    _here[:] = [(log, RecordingRows(log))]


def _failures(given: Sequence[OnTrial]) -> list[str | None]:
    return [_here[0][1].failure(*one) for one in given]


def _ahead(recording: str) -> RowsAhead | None:
    log, rows = _here[0]
    try:
        if rows.good(recording, log.derived_get(recording)):
            return None
        kept, stamp = rows.kept(recording), rows.stamp(recording)
        made = rows.made(kept, log.events(recording), stamp, DerivationMemo())
    except VoicelogError:  # it is met where it can be told
        return None
    pages = [page for _, page in made if isinstance(page, LoggedSession)]
    histories = [(page.session.dog.name, page.began, page.past) for page in pages]
    return RowsAhead([row for row, _ in made], histories)
