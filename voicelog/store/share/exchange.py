"""One exchange with a share: what is new here goes out, what is there comes in."""

from __future__ import annotations

import json
import secrets
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass, field

from voicelog import __version__
from voicelog.model import FrozenModel
from voicelog.store import cache
from voicelog.store.log import Log
from voicelog.store.share import tables
from voicelog.store.share.admission import admitted, author_seal
from voicelog.store.share.asides import recordings_with_asides
from voicelog.store.share.erasure import erase, rewrite
from voicelog.store.share.inbox import Taken, deletes, take_batch, take_newer
from voicelog.store.share.outbox import Author, regenerated, seal, write_missing
from voicelog.store.share.place import SegmentFile, SharePlace
from voicelog.store.share.segments import SealedSegment, SegmentError
from voicelog.store.share.showing import Trial, no_trial, refold

__all__ = [
    "DeviceState",
    "Exchanged",
    "author_of",
    "device_states",
    "exchange",
    "first_of",
    "heads_of",
    "join",
    "kept_for_later",
    "leave",
    "publish",
    "remember_first",
    "repair",
    "segments_not_in",
    "settings_held",
]

_HELD = 20_000
"""Items of segments that wait in memory, about; more are read again."""
_AT_ONCE = 20_000
"""Items that are taken in in one transaction, about."""

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
        if place.first is not None:
            values["first"] = place.first
        for key, value in (values | {"folder": str(place.folder)}).items():
            tables.put(connection, key, value)
    return Author(place.kennel, device, name)


def remember_first(log: Log, key: str) -> None:
    """Remember that the share is signed, and the key of its first device: a folder that says
    otherwise is not believed."""
    with log.writing() as connection:
        tables.put(connection, "first", key)


def first_of(log: Log, kennel: str) -> str | None:
    """The key of the first device of a share as it is remembered here; None where this log was not
    in that share, or as far as anybody said here it is not signed."""
    with log.reading() as connection:
        known = tables.get(connection, "kennel") == kennel
        return tables.get(connection, "first") if known else None


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
    trial: Trial = no_trial,
) -> Exchanged:
    """Seal what is new, take in what has come, and write what is missing of this device's own.

    `settings` is the text of the settings file; `progress` is told how many segments were read, and
    of how many. `trial` derives, by itself and the same on every device, what is to be shown of a
    recording before that is committed: what does not derive is set aside.

    Raises:
        LogError: as the disk refuses; what is not done then is done by doing it again.
    """
    done = Exchanged()
    incoming = admitted(log, place)
    author = _own_name(log, incoming.place, author, done)
    done.sealed = _seal(log, author, trial, settings)
    with log.reading() as connection:
        before = tables.get(connection, "program")
    if before != __version__:
        take_newer(log, done.taken, trial)
    _try_again(log, trial, every=before != __version__)
    _take_all(log, incoming.place, done, progress, trial)
    done.aside += incoming.refused
    done.sealed += _seal(log, author, trial)  # what was deleted elsewhere may have taken more along
    with log.writing() as connection:
        erase(connection)
    done.written = write_missing(log, place, author)
    rewrite(log, place, author)
    log.drop_sounds()
    log.sweep()
    return done


def _try_again(log: Log, trial: Trial, *, every: bool) -> None:
    """Try once more what is set aside of recordings, since what stood against it may be deleted;
    with `every`, as after a change of the program, also recordings that did not derive at all."""
    with log.writing() as connection:
        again = recordings_with_asides(connection)
        if every:
            again |= cache.asides(connection).keys()
            tables.put(connection, "program", __version__)
        refold(connection, again, trial, came=False)


def _seal(log: Log, author: Author, trial: Trial, settings: str | None = None) -> int:
    """Seal what is new, and choose anew what is shown of it, by the rule of all other devices."""
    count, touched = seal(log, author, settings)
    if touched:
        with log.writing() as connection:
            refold(connection, touched, trial, came=False)
    return count


def _take_all(
    log: Log, place: SharePlace, done: Exchanged, progress: Progress, trial: Trial
) -> None:
    """Take in every segment that may be, each after all that its author had seen."""
    with log.reading() as connection:
        known = tables.segment_ids(connection)
    fresh = [file for file in place.files() if file.id not in known]
    queue = _Queue(log, place, known, done, trial)
    for number, file in enumerate(fresh, start=1):
        progress(number - 1, len(fresh))
        queue.add(file)
    queue.take()
    done.waiting = len(queue.waiting)
    done.aside = [error for file, error in queue.aside.items() if file.id not in queue.known]


class _Queue:
    """Segments that have come, each taken in once all that its author had seen is here; many in
    one go, since each transaction waits for the disk and derives anew what it changed."""

    def __init__(
        self, log: Log, place: SharePlace, known: set[str], done: Exchanged, trial: Trial
    ) -> None:
        self._log, self._place, self._done, self._trial = log, place, done, trial
        self.known = known
        self.aside: dict[SegmentFile, SegmentError] = {}
        self.waiting: dict[str, SegmentFile] = {}
        """Segments that cannot be taken in yet, by id, each with its file."""
        self._missing: dict[str, int] = {}
        """How many of those that its author had seen are missing, of each that waits."""
        self._waited_for: dict[str, list[str]] = {}
        self._held: dict[str, SealedSegment] = {}
        self._held_items = 0
        self._ready: list[tuple[SegmentFile, SealedSegment]] = []
        self._size = 0
        self._seen: set[str] = set()

    def add(self, file: SegmentFile) -> None:
        """Read a file, and take in what can be."""
        try:
            segment = self._place.read(file)
        except SegmentError as error:
            self.aside[file] = error
            return
        if segment.id in self.known or segment.id in self._seen:
            return
        self._seen.add(segment.id)
        self._go(file, segment)

    def take(self) -> None:
        """Take in those that wait for nothing."""
        batch, self._ready, self._size = self._ready, [], 0
        if not batch:
            return
        segments = [segment for _, segment in batch]
        bad = take_batch(self._log, segments, self._done.taken, self._trial)
        files = {segment.id: file for file, segment in batch}
        self.aside |= {files[name]: error for name, error in bad.items()}
        with self._log.reading() as connection:
            here = tables.segment_ids(connection, files)
        self.known -= files.keys() - here
        for file, segment in batch:
            if segment.id not in self.known and segment.id not in bad:
                self._wait(file, segment)

    def _go(self, file: SegmentFile, segment: SealedSegment) -> None:
        """It is next, and with it what waited for it alone."""
        going = [(file, segment)]
        while going:
            file, segment = going.pop()
            if deletes(segment):
                self.take()
            if not self.known.issuperset(segment.header.seen):
                self._wait(file, segment)
                continue
            self._ready.append((file, segment))
            self.known.add(segment.id)
            self._size += len(segment.items)
            if deletes(segment) or self._size >= _AT_ONCE:
                self.take()
            if segment.id in self.known:
                going += self._freed(segment.id)

    def _wait(self, file: SegmentFile, segment: SealedSegment) -> None:
        missing = set(segment.header.seen) - self.known
        self.waiting[segment.id] = file
        self._missing[segment.id] = len(missing)
        for one in missing:
            self._waited_for.setdefault(one, []).append(segment.id)
        if self._held_items < _HELD:
            self._held[segment.id] = segment
            self._held_items += len(segment.items)

    def _freed(self, came: str) -> Iterator[tuple[SegmentFile, SealedSegment]]:
        """Those that waited for this one alone."""
        for name in self._waited_for.pop(came, ()):
            self._missing[name] -= 1
            if self._missing[name] > 0 or name not in self.waiting:
                continue
            file = self.waiting.pop(name)
            try:
                segment = self._held[name] if name in self._held else self._place.read(file)
            except SegmentError as error:
                self.aside[file] = error
                continue
            if self._held.pop(name, None) is not None:
                self._held_items -= len(segment.items)
            yield file, segment


def publish(log: Log, place: SharePlace, author: Author, trial: Trial = no_trial) -> int:
    """Seal what is new and write it, without taking anything in; how many segments that made.

    Raises:
        LogError: as the disk refuses.
    """
    count = _seal(log, author, trial)
    write_missing(log, place, author)
    return count


def kept_for_later(log: Log) -> int:
    """How many things came that only a later program knows."""
    with log.reading() as connection:
        return tables.newer_items(connection)


def settings_held(log: Log) -> str | None:
    """The settings that hold in the share, as text; None where nobody gave any."""
    with log.reading() as connection:
        return tables.get(connection, "settings_text")


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
            seen = tables.ancestors(connection, [last], known)
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
