"""Several recordings heard at the same time by an executor, and taken in here in their order.

The seam is `concurrent.futures.Executor`: the processes of this machine (`local_workers`, which is
what --jobs means) and a cluster's scheduler (`voicelog.app.cluster`) are used alike.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import (
    FIRST_COMPLETED,
    Executor,
    Future,
    ProcessPoolExecutor,
    wait,
)
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from multiprocessing import get_context
from typing import Generic, TypeVar

from voicelog.app.heard_elsewhere import (
    HearingOutcome,
    HearingTask,
    NotHeard,
    hear_task,
    hearing_identity,
)
from voicelog.app.parallel import Progress, take_keys
from voicelog.audio.locked_files import folder_keys, open_bytes, size_of
from voicelog.model import VoicelogError
from voicelog.report.cluster_words import ended_words, too_long_words

__all__ = ["HearingWorkers", "heard_by", "local_workers"]

Item = TypeVar("Item")
Result = TypeVar("Result")

_LOOK_S = 1.0
"""How often it is looked whether there are still workers, s."""
MOST_BYTES = 1 << 30
"""Of a file whose bytes are sent: ten hours of plain sound at 16 kHz."""


@dataclass(frozen=True, slots=True)
class HearingWorkers:
    """Who hears, behind one executor.

    executor: does `hear`.
    width: how many recordings can be heard at the same time now.
    sends: whether workers get the bytes of a file, since they may not have it.
    killed: errors which say that workers died of a task; it is tried once more by itself.
    lost: one sentence where there is nobody left who could hear, else None; asked while waiting.
    failed: one sentence for an error of the task of that name, or None where it is a mistake of
        the program, which is raised.
    hear: what is done there.
    """

    executor: Executor
    width: Callable[[], int]
    failed: Callable[[BaseException, str], str | None]
    sends: bool = False
    killed: tuple[type[BaseException], ...] = ()
    lost: Callable[[], str | None] = lambda: None
    hear: Callable[[HearingTask], HearingOutcome] = hear_task


@contextmanager
def local_workers(jobs: int) -> Iterator[HearingWorkers]:
    """That many processes of this machine, as long as the context lasts."""
    pool = ProcessPoolExecutor(
        jobs,
        mp_context=get_context("spawn"),
        initializer=take_keys,
        initargs=(folder_keys(),),
    )
    try:
        yield HearingWorkers(pool, lambda: jobs, _ended)
    finally:
        pool.shutdown(cancel_futures=True)


def _ended(error: BaseException, name: str) -> str | None:
    if isinstance(error, BrokenProcessPool):
        return ended_words(name)
    return None


def heard_by(
    workers: HearingWorkers,
    items: Sequence[Item],
    task: Callable[[Item], HearingTask | None],
    finish: Callable[[Item, HearingOutcome | None], Result],
    progress: Progress[Item] = lambda number, total, item: None,
) -> Iterator[tuple[Item, Result | VoicelogError]]:
    """Let workers hear every item and take in here what they heard, in the order of the items.

    One that workers die of comes last: it is tried once more, with nothing beside it, so that what
    was only near it is not blamed.

    Args:
        workers: who hears.
        items: what is to be heard.
        task: what is to be heard of an item; None where nothing is, or it cannot be read.
        finish: takes in what came of it; with None it does all by itself, here.
        progress: told after each that is heard.

    Returns:
        Each item with what `finish` returned, or with the error that a user can mend.
    """
    course = _Course(workers, items, task, progress)
    try:
        yield from course.results(finish)
    finally:
        course.stop()


@dataclass(slots=True)
class _Course(Generic[Item]):
    """How far it is: what is not begun, what is being heard, what is heard and not taken in."""

    workers: HearingWorkers
    items: Sequence[Item]
    task: Callable[[Item], HearingTask | None]
    progress: Progress[Item]
    waiting: deque[int] = field(init=False)
    order: deque[int] = field(init=False)
    again: deque[int] = field(default_factory=deque)
    running: dict[Future[HearingOutcome], int] = field(default_factory=dict)
    names: dict[int, str] = field(default_factory=dict)
    alone: bool = False
    heard: dict[int, HearingOutcome | None] = field(default_factory=dict)
    done: int = 0

    def __post_init__(self) -> None:
        self.waiting, self.order = deque(range(len(self.items))), deque(range(len(self.items)))

    def results(
        self, finish: Callable[[Item, HearingOutcome | None], Result]
    ) -> Iterator[tuple[Item, Result | VoicelogError]]:
        while self.order:
            self._begin()
            if self.order[0] not in self.heard:
                self._wait()
                continue
            item, outcome = self.items[self.order[0]], self.heard.pop(self.order.popleft())
            try:
                yield item, finish(item, outcome)
            except VoicelogError as error:
                yield item, error

    def stop(self) -> None:
        """Ask for nothing more."""
        for future in self.running:
            future.cancel()

    def _begin(self) -> None:
        """Give out as much as can be heard at the same time."""
        while self.waiting and len(self.running) < max(1, self.workers.width()):
            self._give(self.waiting.popleft())
        if self.again and not self.running:
            self.alone = True
            self._give(self.again.popleft())

    def _give(self, index: int) -> None:
        task = self._readable(self.items[index])
        if not isinstance(task, HearingTask):
            self._end(index, task)
            return
        self.names[index] = task.name
        try:
            self.running[self.workers.executor.submit(self.workers.hear, task)] = index
        except Exception as error:  # whatever its executor raises where it is gone
            self._end(index, self._problem(index, error))

    def _readable(self, item: Item) -> HearingTask | NotHeard | None:
        try:
            task = self.task(item)
            if task is None or not self.workers.sends:
                return task
            if size_of(task.path) > MOST_BYTES:
                return NotHeard(too_long_words(task.path, MOST_BYTES >> 30))
            with open_bytes(task.path) as file:
                content = file.readall()
            return replace(task, content=content, identity=hearing_identity(task.heard_with))
        except (VoicelogError, OSError):
            return None  # it is said when it is opened here

    def _wait(self) -> None:
        ended, _ = wait(self.running, timeout=_LOOK_S, return_when=FIRST_COMPLETED)
        for future in ended:
            index = self.running.pop(future)
            try:
                self._end(index, future.result())
            except self.workers.killed as error:
                self._killed(index, error)
            except Exception as error:
                self._end(index, self._problem(index, error))
        if not ended and (lost := self.workers.lost()) is not None:
            self.stop()
            left = [*self.running.values(), *self.again, *self.waiting]
            self.running.clear()
            self.again.clear()
            self.waiting.clear()
            for index in left:
                self._end(index, NotHeard(lost))

    def _killed(self, index: int, error: BaseException) -> None:
        if self.alone:
            self._end(index, self._problem(index, error))
            return
        self.again.append(index)
        self.order.remove(index)
        self.order.append(index)

    def _problem(self, index: int, error: BaseException) -> NotHeard:
        said = self.workers.failed(error, self.names[index])
        if said is None:
            raise error
        return NotHeard(said)

    def _end(self, index: int, outcome: HearingOutcome | None) -> None:
        self.heard[index] = outcome
        self.done += 1
        self.progress(self.done, len(self.items), self.items[index])
