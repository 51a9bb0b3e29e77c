"""What stands against a dog is kept, whatever goes: an act may take away what it rests on, a
deletion here or on another device, but only a person who closes it ends it."""

from __future__ import annotations

from collections.abc import Mapping
from uuid import uuid4

from voicelog.analysis.open_matters import OpenMatter
from voicelog.app.session_catalog import SessionCatalog
from voicelog.model import MatterEvent
from voicelog.store.tombstones import dog_id

__all__ = ["MatterKey", "keep_open", "kept_event", "standing_matters"]

MatterKey = tuple[str, str]
"""The hash of its dog, and its own id."""


def standing_matters(catalog: SessionCatalog) -> dict[MatterKey, OpenMatter]:
    """Every matter that stands, taken before an act for `keep_open`. `catalog` is refreshed."""
    return {key: one for key, one in _all(catalog).items() if one.stands}


def keep_open(
    catalog: SessionCatalog, before: Mapping[MatterKey, OpenMatter]
) -> tuple[OpenMatter, ...]:
    """Keep what stood `before` an act and is on no list since: nobody closed it. `catalog` is
    refreshed after the act; what was kept is returned.

    Raises:
        LogError: as the disk refuses.
    """
    now = {name for _, name in _all(catalog)}
    lost = {key: one for key, one in before.items() if one.id not in now}
    events = [kept_event(one, dog) for (dog, _), one in lost.items()]
    if events:
        catalog.log.append_matters(events)
    return tuple(lost.values())


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


def _all(catalog: SessionCatalog) -> dict[MatterKey, OpenMatter]:
    """Every matter that was not forgotten."""
    return {
        (dog_id(dog) if one.matter.dog else dog, one.id): one
        for dog, some in catalog.matters(None).items()
        for one in some
    }
