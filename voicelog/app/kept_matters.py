"""What stands against a dog is kept, whatever goes: an act may take away what it rests on, a
deletion here or on another device, but only a person who closes it ends it.

What stands is written down before the act. Where the program is killed before its end, the next
one that brings the log in order (`SessionCatalog.refresh`) keeps what was lost.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING
from uuid import uuid4

from voicelog.analysis.open_matters import OpenMatter, matter_id
from voicelog.model import MatterEvent
from voicelog.store.file_lock import file_lock
from voicelog.store.standing import forget_standing, note_standing, noted_standing
from voicelog.store.tombstones import dog_id

if TYPE_CHECKING:
    from voicelog.app.session_catalog import SessionCatalog

__all__ = ["KeptMatters", "finish_keeping", "keeping_open", "kept_event"]

_LOCK = "keeping.lock"


@dataclass(slots=True)
class KeptMatters:
    """What stood before an act, is on no list since, and is kept: nobody closed it."""

    matters: tuple[OpenMatter, ...] = ()


@contextmanager
def keeping_open(catalog: SessionCatalog) -> Iterator[KeptMatters]:
    """Keep what stands, whatever is done within; what was kept is told at the end. `catalog` is
    refreshed before, and within after the act.

    Raises:
        LogError: as the disk refuses.
    """
    before = {key: one for key, one in _all(catalog).items() if one.stands}
    kept = KeptMatters()
    if not before:
        yield kept
        return
    events = {key: kept_event(one, key[0]) for key, one in before.items()}
    name = uuid4().hex
    with file_lock(catalog.log.folder / _LOCK):
        note_standing(catalog.log, name, list(events.values()))
        yield kept
        now = {name for _, name in _all(catalog)}
        kept.matters = tuple(one for one in before.values() if one.id not in now)
        lost = [events[key] for key, one in before.items() if one.id not in now]
        forget_standing(catalog.log, name, lost)


def finish_keeping(catalog: SessionCatalog) -> None:
    """Keep what was lost by acts whose program did not come to its end; nothing while one of them
    may still be at it. `catalog` is in order."""
    noted = noted_standing(catalog.log)
    if not noted:
        return
    with file_lock(catalog.log.folder / _LOCK) as free:
        if not free:
            return
        now = {name for _, name in _all(catalog)}
        for name, events in noted_standing(catalog.log).items():
            forget_standing(catalog.log, name, [one for one in events if _id_of(one) not in now])


def kept_event(one: OpenMatter, dog: str) -> MatterEvent:
    """What keeps a matter without its entries, its sound and its dog's name; `dog` is the hash."""
    return MatterEvent(
        id=f"k-{uuid4().hex}",
        do="keep",
        kind=one.matter.kind,
        entries=one.matter.entries,
        dog=dog,
        matter=one.matter.model_copy(update={"dog": "", "recording": ""}),
    )


def _id_of(one: MatterEvent) -> str:
    return "" if one.matter is None else matter_id(one.matter)


def _all(catalog: SessionCatalog) -> dict[tuple[str, str], OpenMatter]:
    """Every matter that was not forgotten, by the hash of its dog and its own id."""
    return {
        (dog_id(dog) if one.matter.dog else dog, one.id): one
        for dog, some in catalog.matters(None).items()
        for one in some
    }
