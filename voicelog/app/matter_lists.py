"""The lists of open matters, dog by dog: none is made before it is asked for, and none is held.

In a large kennel tens of thousands of matters stand that nobody has closed yet. Who goes through
them needs those of one dog at a time.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from itertools import chain

from pydantic import TypeAdapter

from voicelog.analysis.open_matters import (
    OpenMatter,
    any_stop,
    matters_after,
    newest_deeds,
)
from voicelog.model import MatterEvent, SessionMatter
from voicelog.model.names import name_key
from voicelog.store import Log
from voicelog.store.tombstones import dog_id

__all__ = ["MatterLists"]

_MATTERS = TypeAdapter(tuple[SessionMatter, ...])


class MatterLists(Mapping[str, tuple[OpenMatter, ...]]):
    """The list of every dog that has one, by its name, as the log is when it is asked for; `dogs`
    has those that may have one.

    A dog is named as its sessions name it, else as the roster does; of a dog that neither knows
    only the hash of its name is left, which stands for it. What people did is read once.
    """

    def __init__(self, log: Log, today: date | None = None, only: str | None = None) -> None:
        """`today` as in `open_matters`; `only`: of that one dog, whatever the case of its
        letters."""
        self._log, self._today = log, today
        self._last: tuple[str, tuple[OpenMatter, ...]] | None = None
        events = log.matter_events()
        self._newest = newest_deeds(events)
        self._kept: dict[str, list[MatterEvent]] = {}
        for event in events:
            if event.do == "keep":
                self._kept.setdefault(event.dog, []).append(event)
        self._loose: dict[str, list[SessionMatter]] = {}
        for one in _read(log.session_matters(None)):
            self._loose.setdefault(one.dog, []).append(one)
        known = [*log.listed_dogs(), *self._loose]
        roster = [dog.name for dog in log.roster().dogs] if self._kept else []
        names = {dog_id(name): name for name in (*roster, *known)} if self._kept else {}
        self.dogs: tuple[str, ...] = tuple(
            dog
            for dog in dict.fromkeys([*known, *(names.get(key, key) for key in self._kept)])
            if only is None or name_key(dog) == name_key(only)
        )

    def __getitem__(self, dog: str) -> tuple[OpenMatter, ...]:
        if self._last is None or self._last[0] != dog:
            self._last = dog, self._list(dog) if dog in self.dogs else ()
        if not self._last[1]:
            raise KeyError(dog)
        return self._last[1]

    def __iter__(self) -> Iterator[str]:
        return (dog for dog in self.dogs if self.get(dog))

    def __len__(self) -> int:
        return sum(1 for _ in self)

    def stops(self, dog: str) -> bool:
        """Whether a stop stands of a dog; hardly more is read than the first one."""
        if self._kept_of(dog):
            return any(one.is_stop for one in self.get(dog, ()))
        texts = self._log.session_matters(dog, stop=True)
        return any_stop(chain(self._loose.get(dog, ()), _read(texts)), self._newest)

    def _list(self, dog: str) -> tuple[OpenMatter, ...]:
        left = chain(self._loose.get(dog, ()), _read(self._log.session_matters(dog)))
        return matters_after(left, self._newest, self._kept_of(dog), self._today)

    def _kept_of(self, dog: str) -> Sequence[MatterEvent]:
        """What is kept of its deleted sessions."""
        return self._kept.get(dog_id(dog), self._kept.get(dog, ())) if self._kept else ()


def _read(texts: Sequence[str]) -> Iterator[SessionMatter]:
    """The matters that the texts of rows hold, read one text at a time."""
    return chain.from_iterable(map(_MATTERS.validate_json, texts))
