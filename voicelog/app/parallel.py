"""The same work on several files at the same time, whatever comes of each."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from multiprocessing import get_context
from pathlib import Path
from typing import TypeVar

from voicelog.audio.locked_files import folder_keys, note_folder_key
from voicelog.model import VoicelogError

__all__ = ["Progress", "for_each", "take_keys"]

Item = TypeVar("Item")
Result = TypeVar("Result")

Progress = Callable[[int, int, Item], None]
"""(how many are begun, or done where several are at work; of how many; the item) -> told."""


def for_each(
    items: Sequence[Item],
    work: Callable[[Item], Result],
    jobs: int,
    progress: Progress[Item] = lambda number, total, item: None,
) -> Iterator[tuple[Item, Result | VoicelogError]]:
    """Do `work` on every item and give the results in the order of the items.

    Errors that the user can mend are results too, so the others go on. With more than one job
    and item each runs in a process of its own: `work`, items and results have to be picklable.
    """
    if jobs == 1 or len(items) == 1:
        for number, item in enumerate(items, start=1):
            progress(number, len(items), item)
            yield item, _attempt(work, item)
        return
    results: dict[int, Result | VoicelogError] = {}
    with ProcessPoolExecutor(
        min(jobs, len(items)),
        mp_context=get_context("spawn"),
        initializer=take_keys,
        initargs=(folder_keys(),),
    ) as pool:
        futures = {pool.submit(_attempt, work, item): i for i, item in enumerate(items)}
        given = 0
        for done, future in enumerate(as_completed(futures), start=1):
            index = futures[future]
            results[index] = future.result()
            progress(done, len(items), items[index])
            while given in results:
                yield items[given], results.pop(given)
                given += 1


def take_keys(keys: Mapping[Path, bytes]) -> None:
    """What a locked log is read by, in a process that cannot ask for it."""
    for folder, key in keys.items():
        note_folder_key(folder, key)


def _attempt(work: Callable[[Item], Result], item: Item) -> Result | VoicelogError:
    try:
        return work(item)
    except VoicelogError as error:
        return error
