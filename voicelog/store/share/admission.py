"""Whose files count in a signed share: those of keys that the first device allowed.

The list is not a file of its own: it is what the first device said in its own signed segments, so
that it travels like all else and nobody who can write to the folder can add a line. Every device
goes by the newest word on each key that it has seen.

Where a key is withdrawn, nothing new of it is taken. What other devices had taken before they heard
of that, they have built on; a device whose key is allowed vouches by that for what it had seen, or
those who heard of it early and late would never hold one log again.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from sqlalchemy import Connection

from voicelog.model import FrozenModel, UsageError
from voicelog.store.log import Log
from voicelog.store.share import tables
from voicelog.store.share.items import KeyItem, typed_body
from voicelog.store.share.place import SegmentFile, SharePlace
from voicelog.store.share.segments import SealedSegment, SegmentError, UnsignedSegmentError
from voicelog.store.share.signing import KeySeal, SegmentSeals, fingerprint, same_fingerprint

__all__ = [
    "Incoming",
    "KeyState",
    "admitted",
    "allow_key",
    "author_seal",
    "introduce",
    "key_states",
    "pending_keys",
]

_KEYS, _REFUSED, _PENDING = "keys", "keys_refused", "keys_pending"
_SEAL = "seal:"


class KeyState(FrozenModel):
    """A key in a signed share, its device's name, whether what it signs counts, and how many files
    of it are set aside. `known`: the first device has said something of it."""

    key: str
    name: str = ""
    allowed: bool = False
    known: bool = False
    aside: int = 0


class _AdmittedPlace(SharePlace):
    """The same folder, without the files that do not count."""

    def __init__(self, place: SharePlace, refused: Iterable[Path]) -> None:
        super().__init__(place.folder, place.kennel, place.first, place.key)
        self._refused = frozenset(refused)

    def files(self, under: str = ".") -> Iterator[SegmentFile]:
        return (file for file in super().files(under) if file.path not in self._refused)


@dataclass(frozen=True, slots=True)
class Incoming:
    """What of a share's folder counts, and why what is set aside does not."""

    place: SharePlace
    refused: tuple[SegmentError, ...] = ()


def admitted(log: Log, place: SharePlace, *, every: bool = False) -> Incoming:
    """The folder of a share as far as its files may be taken in; all of it where it is not signed.

    Args:
        log: the log that takes them in; it remembers whom the first device allowed.
        place: the share.
        every: look also at files whose names say that they are known.
    """
    if place.first is None or place.key is None:
        return Incoming(place)
    with log.reading() as connection:
        known = tables.segment_ids(connection)
        keys = _stored(connection)
    files = _Files(place)
    for file in place.files():
        if every or file.id not in known:
            files.read(file)
    for item in files.told_by(place.first):
        keys[item.key] = _newer(keys.get(item.key), item)
    allowed = {name for name, item in keys.items() if item.allowed}
    allowed |= {place.first, place.key.public}
    refused = files.refused(allowed)
    with log.writing() as connection:
        tables.put(connection, _KEYS, json.dumps([one.model_dump() for one in keys.values()]))
        for segment, seals in files.seals.items():
            if segment not in known:
                tables.put(connection, f"{_SEAL}{segment}", seals.author.model_dump_json())
        told = [one.model_dump() for one in files.states(refused)]
        tables.put(connection, _REFUSED, json.dumps(told))
    errors = tuple(files.error(path, place.first, keys) for path in sorted(refused))
    return Incoming(_AdmittedPlace(place, refused), errors)


@dataclass(slots=True)
class _Files:
    """The signed segments that are in files, as far as it matters who signed them."""

    place: SharePlace
    seals: dict[str, SegmentSeals] = field(default_factory=dict)
    _of: dict[Path, tuple[str, SegmentSeals, str]] = field(default_factory=dict)
    """Of each file the segment, its seals and what its device is called."""
    _seen: dict[str, tuple[str, ...]] = field(default_factory=dict)
    _said: list[tuple[str, KeyItem]] = field(default_factory=list)

    def read(self, file: SegmentFile) -> None:
        """Look at a file; what is wrong with it is for whoever takes it in."""
        try:
            segment = self.place.read(file)
        except SegmentError:
            return
        if (seals := segment.seals) is None:
            return
        self._of[file.path] = (segment.id, seals, segment.header.name)
        self._seen[segment.id] = segment.header.seen
        self._said += [(seals.author.key, item) for item in _key_items(segment)]

    def told_by(self, first: str) -> Iterator[KeyItem]:
        """What the first device said of keys."""
        return (item for key, item in self._said if key == first)

    def refused(self, allowed: set[str]) -> set[Path]:
        """The files that do not count; of the others `seals` remembers who signed them."""
        fit = {
            path
            for path, (_, seals, _) in self._of.items()
            if seals.author.key in allowed and seals.writer.key in allowed
        }
        by_segment: dict[str, list[Path]] = {}
        for path, (segment, _, _) in self._of.items():
            by_segment.setdefault(segment, []).append(path)
        waiting = [one for path in fit for one in self._seen[self._of[path][0]]]
        vouched: set[str] = set()
        while waiting:
            segment = waiting.pop()
            if segment in vouched or segment not in by_segment:
                continue
            vouched.add(segment)
            waiting += self._seen[segment]
            for path in by_segment[segment]:
                seals = self._of[path][1]
                if seals.writer.key in allowed or seals.writer.key == seals.author.key:
                    fit.add(path)
        for path in fit:
            segment, seals, _ = self._of[path]
            self.seals[segment] = seals
        return self._of.keys() - fit

    def states(self, refused: set[Path]) -> Iterator[KeyState]:
        """Every key of which files are set aside."""
        found: dict[str, KeyState] = {}
        for path in sorted(refused):
            _, seals, name = self._of[path]
            before = found.get(seals.author.key, KeyState(key=seals.author.key, name=name))
            found[before.key] = before.model_copy(update={"aside": before.aside + 1})
        return iter(found.values())

    def error(self, path: Path, first: str, keys: Mapping[str, KeyItem]) -> SegmentError:
        """Why a file is set aside."""
        _, seals, name = self._of[path]
        key = seals.author.key
        if key == first or (key in keys and keys[key].allowed):
            key, name = seals.writer.key, "another device"
        why = "was withdrawn" if key in keys else "is not allowed"
        return UnsignedSegmentError(
            path.name,
            f"the key {fingerprint(key)} of {name or 'a device'} {why}",
            "see 'voicelog share status' on the device that began the share",
        )


def _key_items(segment: SealedSegment) -> Iterator[KeyItem]:
    for item in segment.items:
        if item.kind != "key" or item.gone:
            continue
        try:
            body = typed_body(item)
        except ValueError:
            continue
        if isinstance(body, KeyItem):
            yield body


def _newer(before: KeyItem | None, item: KeyItem) -> KeyItem:
    return item if before is None or item.turn > before.turn else before


def _stored(connection: Connection) -> dict[str, KeyItem]:
    told = json.loads(tables.get(connection, _KEYS) or "[]")
    return {one["key"]: KeyItem.model_validate(one) for one in told}


def author_seal(connection: Connection, segment: str) -> KeySeal | None:
    """The author's signature of a segment that another device wrote; None where it is not known.
    `connection` is in a transaction."""
    text = tables.get(connection, f"{_SEAL}{segment}")
    return None if text is None else KeySeal.model_validate_json(text)


def key_states(log: Log, place: SharePlace) -> tuple[KeyState, ...]:
    """Every key of a signed share of which something is known here, but the first device's."""
    with log.reading() as connection:
        keys = _stored(connection)
        refused = json.loads(tables.get(connection, _REFUSED) or "[]")
    aside = {one["key"]: KeyState.model_validate(one) for one in refused}
    found = []
    for key in dict.fromkeys([*keys, *aside]):
        before = aside.get(key, KeyState(key=key))
        if (item := keys.get(key)) is not None:
            told = {"name": item.name or before.name, "allowed": item.allowed, "known": True}
            before = before.model_copy(update=told)
        if key != place.first:
            found.append(before)
    return tuple(found)


def allow_key(log: Log, place: SharePlace, typed: str, *, allowed: bool) -> KeyState:
    """Say, as the first device, whether what a key signs counts from now on; it goes out with the
    next exchange.

    Args:
        log: the log of the device that began the share.
        place: its folder.
        typed: the key's fingerprint, as it was typed.
        allowed: it counts, or it is withdrawn.

    Raises:
        UsageError: the share is not signed, another device began it, or no such key was seen.
    """
    if place.first is None or place.key is None:
        raise UsageError(
            "Found a share that is not signed, wanted one that is; sign it from now on with "
            "'voicelog share sign'."
        )
    if place.key.public != place.first:
        raise UsageError(
            "Found another device than the first, wanted that one, which alone says whose files "
            f"count (its key is {fingerprint(place.first)}); run the command there."
        )
    states = key_states(log, place)
    found = next((one for one in states if same_fingerprint(typed, one.key)), None)
    if found is None:
        have = ", ".join(fingerprint(one.key) for one in states) or "none yet"
        raise UsageError(
            f"Found no key '{typed}' in this share, wanted one that has come ({have}); run "
            "'voicelog share now', and compare it with the other device's screen."
        )
    with log.writing() as connection:
        keys = _stored(connection)
        before = keys.get(found.key)
        turn = 1 if before is None else before.turn + 1
        item = KeyItem(key=found.key, name=found.name, allowed=allowed, turn=turn)
        keys[found.key] = item
        waiting = [*_pending(connection), item]
        tables.put(connection, _KEYS, json.dumps([one.model_dump() for one in keys.values()]))
        tables.put(connection, _PENDING, json.dumps([one.model_dump() for one in waiting]))
    return found.model_copy(update={"allowed": allowed, "known": True})


def introduce(log: Log, key: str, name: str) -> None:
    """Let a file go out that shows this device's key, so that the first device can allow it before
    anything else was written. Said by this device, it allows nothing."""
    item = KeyItem(key=key, name=name, allowed=False, turn=1)
    with log.writing() as connection:
        waiting = [*_pending(connection), item]
        tables.put(connection, _PENDING, json.dumps([one.model_dump() for one in waiting]))


def pending_keys(connection: Connection) -> list[KeyItem]:
    """What was said of keys and has not gone out; it goes now. `connection` is in a transaction."""
    found = _pending(connection)
    if found:
        tables.put(connection, _PENDING, "[]")
    return found


def _pending(connection: Connection) -> list[KeyItem]:
    told = json.loads(tables.get(connection, _PENDING) or "[]")
    return [KeyItem.model_validate(one) for one in told]
