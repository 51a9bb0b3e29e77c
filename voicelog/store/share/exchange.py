"""One exchange with a share: what is new here goes out, what is there comes in."""

from __future__ import annotations

import json
import secrets
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass, field

from voicelog import __version__
from voicelog.model import FrozenModel
from voicelog.store.log import Log
from voicelog.store.share import tables
from voicelog.store.share.admission import admitted, author_seal
from voicelog.store.share.erasure import erase, rewrite
from voicelog.store.share.inbox import Taken, refold, take, take_newer
from voicelog.store.share.outbox import Author, regenerated, seal, write_missing
from voicelog.store.share.place import SegmentFile, SharePlace
from voicelog.store.share.segments import SealedSegment, SegmentError

__all__ = [
    "DeviceState",
    "Exchanged",
    "author_of",
    "device_states",
    "exchange",
    "heads_of",
    "join",
    "leave",
    "publish",
    "repair",
    "segments_not_in",
]

_HELD = 200
"""Segments that wait in memory, at most; more are read again."""

Progress = Callable[[int, int], None]


@dataclass(slots=True)
class Exchanged:
    """What came of an exchange."""

    sealed: int = 0
    written: int = 0
    taken: Taken = field(default_factory=Taken)
    waiting: int = 0
    """Segments that speak of others that have not come."""
    aside: list[SegmentError] = field(default_factory=list)
    renamed: bool = False
    """Another program wrote under this device's name, so that it took another."""


def join(log: Log, place: SharePlace, name: str) -> Author:
    """Make this log a device of a share, under a name that people know it by. One that joins
    another kennel than before begins anew."""
    with log.writing() as connection:
        if tables.get(connection, "kennel") not in (None, place.kennel):
            tables.clear(connection)
        device = tables.get(connection, "device") or secrets.token_hex(8)
        values = {"kennel": place.kennel, "device": device, "name": name}
        for key, value in (values | {"folder": str(place.folder)}).items():
            tables.put(connection, key, value)
    return Author(place.kennel, device, name)


def author_of(log: Log) -> tuple[Author, str] | None:
    """Who this log is in its share, and the share's folder; None where it has none."""
    with log.reading() as connection:
        found = {key: tables.get(connection, key) for key in ("kennel", "device", "folder")}
        name = tables.get(connection, "name") or ""
    if not all(found.values()):
        return None
    return Author(str(found["kennel"]), str(found["device"]), name), str(found["folder"])


def exchange(
    log: Log,
    place: SharePlace,
    author: Author,
    settings: str | None = None,
    progress: Progress = lambda done, total: None,
) -> Exchanged:
    """Seal what is new, take in what has come, and write what is missing of this device's own.

    `settings` is the text of the settings file; `progress` is told how many segments were read, and
    of how many.

    Raises:
        LogError: as the disk refuses; what is not done then is done by doing it again.
    """
    done = Exchanged()
    incoming = admitted(log, place)
    author = _own_name(log, incoming.place, author, done)
    done.sealed = _seal(log, author, settings)
    with log.reading() as connection:
        before = tables.get(connection, "program")
    if before != __version__:
        take_newer(log, done.taken)
        with log.writing() as connection:
            tables.put(connection, "program", __version__)
    take_all(log, incoming.place, done, progress)
    done.aside += incoming.refused
    done.sealed += _seal(log, author)  # what was deleted elsewhere may have taken more along
    with log.writing() as connection:
        erase(connection, author.device)
    done.written = write_missing(log, place, author)
    rewrite(log, place, author)
    log.drop_sounds()
    log.sweep()
    return done


def _seal(log: Log, author: Author, settings: str | None = None) -> int:
    """Seal what is new, and choose anew what is shown of it, by the rule of all other devices."""
    count, touched = seal(log, author, settings)
    if touched:
        with log.writing() as connection:
            refold(connection, touched, came=False)
    return count


def take_all(log: Log, place: SharePlace, done: Exchanged, progress: Progress) -> None:
    """Take in every segment that may be, each after all that its author had seen."""
    with log.reading() as connection:
        known = tables.segment_ids(connection)
    fresh = [file for file in place.files() if file.id not in known]
    held: dict[str, SealedSegment] = {}
    waiting: dict[SegmentFile, tuple[str, frozenset[str]]] = {}
    aside: dict[SegmentFile, SegmentError] = {}
    bad: set[str] = set()
    for number, file in enumerate(fresh, start=1):
        progress(number - 1, len(fresh))
        try:
            segment = place.read(file)
        except SegmentError as error:
            aside[file] = error
            continue
        waiting[file] = (segment.id, frozenset(segment.header.seen))
        if len(held) < _HELD:
            held[segment.id] = segment
        if segment.id in known or waiting[file][1] <= known:
            _take_ready(log, place, waiting, held, known, bad, aside, done)
    _take_ready(log, place, waiting, held, known, bad, aside, done)
    done.waiting = len({name for name, _ in waiting.values()} - known)
    done.aside = [error for file, error in aside.items() if file.id not in known]


def _take_ready(
    log: Log,
    place: SharePlace,
    waiting: dict[SegmentFile, tuple[str, frozenset[str]]],
    held: dict[str, SealedSegment],
    known: set[str],
    bad: set[str],
    aside: dict[SegmentFile, SegmentError],
    done: Exchanged,
) -> None:
    """Take in those that wait for nothing, until there is none."""
    while ready := [file for file, (_, seen) in waiting.items() if seen <= known]:
        for file in ready:
            name, _ = waiting.pop(file)
            segment = held.pop(name, None)
            if name in known or name in bad:
                continue
            try:
                take(log, segment or place.read(file), done.taken)
                known.add(name)
            except SegmentError as error:
                aside[file] = error
                bad.add(name)


def publish(log: Log, place: SharePlace, author: Author) -> int:
    """Seal what is new and write it, without taking anything in; how many segments that made.

    Raises:
        LogError: as the disk refuses.
    """
    count = _seal(log, author)
    write_missing(log, place, author)
    return count


def leave(log: Log) -> None:
    """Forget the share's folder. What came from there stays in the log."""
    with log.writing() as connection:
        tables.forget(connection, ["folder"])


def _own_name(log: Log, place: SharePlace, author: Author, done: Exchanged) -> Author:
    """This device under its name, or, where another writes under the same (a copied disk, an older
    copy of the log), under a new one."""
    with log.reading() as connection:
        known = tables.segment_ids(connection)
    strange = [one for one in place.own_files(author.device) if one.id not in known]
    if not any(_is_whole(place, author, known, one) for one in strange):
        return author
    done.renamed = True
    with log.writing() as connection:
        device = secrets.token_hex(8)
        tables.put(connection, "device", device)
    return Author(author.kennel, device, author.name)


def _is_whole(place: SharePlace, author: Author, known: set[str], file: SegmentFile) -> bool:
    try:
        segment = place.read(file)
    except SegmentError:
        return False
    return segment.header.device == author.device and segment.id not in known


class DeviceState(FrozenModel):
    """What is known of a device: its folder's name, what people call it, how many segments of it
    are here, the last of them and when that was sealed, and how many segments it had not seen
    then."""

    device: str
    name: str
    segments: int
    number: int
    sealed_at: str
    unseen: int


def device_states(log: Log) -> Iterator[DeviceState]:
    """Every device of which there is a segment here, by its name."""
    with log.reading() as connection:
        known = tables.headers(connection)
        own: dict[str, list[str]] = {}
        for name, header in known.items():
            own.setdefault(header.device, []).append(name)
        for device, names in sorted(own.items(), key=lambda pair: (known[pair[1][-1]].name, pair)):
            last = max(names, key=lambda name: known[name].number)
            seen = tables.ancestors(connection, [last])
            yield DeviceState(
                device=device,
                name=known[last].name,
                segments=len(names),
                number=known[last].number,
                sealed_at=known[last].sealed_at,
                unseen=len(set(known) - seen),
            )


def repair(log: Log, place: SharePlace, author: Author) -> tuple[int, int]:
    """Read every file of the folder to its end, write this device's own anew where they are damaged
    or missing, and hand on those of others that this device knows.

    Returns:
        How many of its own were written, and how many of others.

    Raises:
        LogError: as the disk refuses.
    """
    good: set[str] = set()
    for file in admitted(log, place, every=True).place.files():
        with suppress(SegmentError):
            good.add(place.read(file).id)
    with log.reading() as connection:
        headers = tables.headers(connection)
    own = others = 0
    for name, header in headers.items():
        if name in good:
            continue
        with log.reading() as connection:
            segment = regenerated(connection, name)
            seal = author_seal(connection, name)
        place.write(segment, author.device, seal)
        own += header.device == author.device
        others += header.device != author.device
    return own, others


def segments_not_in(log: Log, place: SharePlace) -> tuple[str, ...]:
    """The segments that are known here and are not in the folder."""
    there = {file.id for file in place.files()}
    with log.reading() as connection:
        return tuple(sorted(tables.segment_ids(connection) - there))


def heads_of(log: Log) -> tuple[str, ...]:
    """The segments that no other has seen: two logs with the same ones hold the same."""
    with log.reading() as connection:
        return tuple(json.loads(tables.get(connection, "heads") or "[]"))
