"""A share of many trainers, made quickly: what each of them would have given out over years.

Each trainer's first session is put into a log and given out by the program itself. All others are
written as segments at once, a process for each trainer: events of invented sessions
(tests/bench/many_sessions.py) in which recording, dog and time are other ones, in the order and
form in which the program seals them. Whoever joins checks every hash of it, as of any share.
"""

from __future__ import annotations

import hashlib
import json
import random
import sys
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from multiprocessing import get_context
from pathlib import Path
from typing import Any

from tests.bench.many_sessions import FIRST_DAY, session_events
from voicelog import __version__
from voicelog.app.share import start_share
from voicelog.grammar.grammar import Grammar
from voicelog.model import Dog, Event, Reading, Roster, Transmitter, Utterance, Verdict
from voicelog.store import Log, Recording
from voicelog.store.commit_time import commit_time
from voicelog.store.share import tables
from voicelog.store.share.exchange import author_of, publish
from voicelog.store.share.hearings import made_by_machine
from voicelog.store.share.items import event_body, item_id, make_item
from voicelog.store.share.outbox import LARGEST_TEXT, Author
from voicelog.store.share.place import SharePlace
from voicelog.store.share.rows import row_of
from voicelog.store.share.segments import SealedSegment, SegmentHeader

__all__ = ["Kennel", "make_day", "make_share"]

UNIT = Transmitter(top=20)
_TEMPLATES = 60
_DOG = "Placeholder"
_NAME = hashlib.sha256(b"template").hexdigest()
_AT = "0000-00-00T00:00:00.000000Z"


@dataclass(frozen=True, slots=True)
class Kennel:
    """How large it is: `sessions` of `dogs`, `weekly` of each dog, in turn with the trainers."""

    trainers: int
    dogs: int
    sessions: int
    weekly: float

    @property
    def names(self) -> tuple[str, ...]:
        """The dogs' names."""
        return tuple(f"Dog{number:03d}" for number in range(self.dogs))

    def begins(self, number: int) -> datetime:
        """When a session begins."""
        days = number // self.dogs * 7 / self.weekly
        minutes = number % self.dogs * 2
        start = datetime(FIRST_DAY.year, FIRST_DAY.month, FIRST_DAY.day, 7)
        return start + timedelta(days=days, minutes=minutes)


@dataclass(frozen=True, slots=True)
class _Line:
    """An item as its segment has it, already as text."""

    id: str
    text: str

    def line(self) -> str:
        return self.text


def make_share(folder: Path, share: Path, kennel: Kennel, jobs: int) -> int:
    """Write the share; how many events are in it. The logs that it was begun with lie in `folder`,
    `t0` and on, one of each trainer."""
    began = time.perf_counter()
    events = _trainer(folder, share, kennel, 0)  # alone, since it makes the share
    with ProcessPoolExecutor(jobs, mp_context=get_context("spawn")) as pool:
        rest = [
            pool.submit(_trainer, folder, share, kennel, one) for one in range(1, kennel.trainers)
        ]
        for done, one in enumerate(rest, start=2):
            events += one.result()
            passed = time.perf_counter() - began
            told = f"made {done} of {kennel.trainers} trainers, {events} events, {passed:.0f} s"
            print(told, file=sys.stderr, flush=True)
    return events


def make_day(folder: Path, share: Path, kennel: Kennel, many: int) -> int:
    """Give out a day of the first trainer: so many sessions more, and a correction in as many old
    ones; how many events that was."""
    with Log.open(folder / "t0", now=lambda: datetime.now(UTC)) as log:
        writer = _Writer(log, share, kennel)
        for number in range(kennel.sessions, kennel.sessions + many):
            writer.session(number)
        own = range(0, kennel.sessions, kennel.trainers)
        for number in random.Random(1).sample(own, min(many, len(own))):
            writer.correction(number)
        return writer.finish()


def _trainer(folder: Path, share: Path, kennel: Kennel, trainer: int) -> int:
    """Write what one trainer gives out; how many events that was."""
    with Log.open(folder / f"t{trainer}", now=lambda: datetime.now(UTC)) as log:
        if trainer == 0:
            for name in kennel.names:
                log.put_dog(Dog(name=name, transmitter=UNIT))
        own = range(trainer, kennel.sessions, kennel.trainers)
        place = start_share(log, share, f"trainer {trainer}")[0]
        known = author_of(log)
        assert known is not None
        first = _begin(log, kennel, own[0])
        publish(log, place, known[0])
        writer = _Writer(log, share, kennel)
        for number in own[1:]:
            writer.session(number)
        return first + writer.finish()


def _begin(log: Log, kennel: Kennel, number: int) -> int:
    """Put a session into a log as the program does; how many events it has."""
    roster = Roster(dogs=tuple(Dog(name=name, transmitter=UNIT) for name in kennel.names))
    grammar = Grammar.load(roster=roster)
    dog = kennel.names[number % kennel.dogs]
    name = _recording(number)
    kept = Recording(
        id=name, sha256=name, file_name=f"session-{number}.wav", dog=dog, roster=roster,
        started_at=kennel.begins(number), duration_s=300.0, grammar=grammar.name,
    )  # fmt: skip
    log.begin_recording(kept)
    told = list(_events(name, grammar, random.Random(number), dog))
    log.append(told)
    log.finish_recording(name)
    return len(told)


def _recording(number: int) -> str:
    return hashlib.sha256(f"scale {number}".encode()).hexdigest()


def _events(name: str, grammar: Grammar, chance: random.Random, dog: str) -> Iterator[Event]:
    """What was heard, and two notes that a person read."""
    told = list(session_events(name, grammar, chance, dog))
    yield from told
    notes = [one for one in told if isinstance(one, Utterance)]
    for one in chance.sample(notes, 2):
        yield Reading(
            id=f"p-{one.id}-1", utterance=one.id, by="person", who="Anna",
            words=chance.choice(("came", "ignored", "level two")),
            at=datetime(2020, 1, 1, tzinfo=UTC),
        )  # fmt: skip


class _Writer:
    """Writes sessions of one trainer into segments, after the first that its log gave out."""

    def __init__(self, log: Log, share: Path, kennel: Kennel) -> None:
        known = author_of(log)
        assert known is not None
        self._kennel, self._author = kennel, known[0]
        self._place = SharePlace.open(share, log.folder, make=False)
        self._file = log.folder / "bulk.json"
        first = log.recordings()[0]
        with log.reading() as connection:
            self._row = row_of(connection, first.id) or {}
            self._seen: tuple[str, ...] = tables.heads(connection)
            self._number = tables.next_number(connection, self._author.device)
        if self._file.exists():
            told = json.loads(self._file.read_text())
            self._seen, self._number = (told["seen"],), told["number"]
        roster = Roster(dogs=(Dog(name=_DOG, transmitter=UNIT),))
        grammar = Grammar.load(roster=roster)
        self._templates = [
            list(_template(list(_events(_NAME, grammar, random.Random(number), _DOG))))
            for number in range(_TEMPLATES)
        ]
        self._lines: list[_Line] = []
        self._size = self._events = 0

    def session(self, number: int) -> None:
        """Write one."""
        dog = self._kennel.names[number % self._kennel.dogs]
        name, begins = _recording(number), self._kennel.begins(number)
        called = make_item("content", {"kind": "name", "body": _name_body(name, dog)})
        row: dict[str, Any] = self._row | {
            "id": name, "sha256": name, "file_name": f"session-{number}.wav",
            "started_at": begins.isoformat(), "added_at": f"{begins.isoformat()}+00:00",
            "dog": hashlib.sha256(called.body["body"].encode()).hexdigest(),
        }  # fmt: skip
        machine: list[_Line] = []
        people: list[_Line] = []
        template = self._templates[number % _TEMPLATES]
        for place, (heard, whole, text) in enumerate(template):
            at = commit_time(begins + timedelta(hours=2, microseconds=place))
            identity = hashlib.sha256(_mine(whole, name, dog).encode()).hexdigest()
            line = _Line(identity, _mine(text, name, dog).replace(_AT, at, 1))
            (machine if heard else people).append(line)
        body = {"recording": name, "row": row, "events": sorted({one.id for one in machine})}
        hearing = make_item("hearing", body)
        whole_items = [_Line(one.id, one.line()) for one in (called, hearing)]
        for line in (whole_items[0], *machine, whole_items[1], *people):
            self._lines.append(line)
            self._size += len(line.text)
        self._events += len(template)
        if self._size >= LARGEST_TEXT * 0.9:
            self._flush()

    def correction(self, number: int) -> None:
        """A person reads a note of an old session."""
        name, now = _recording(number), datetime.now(UTC)
        note = f"u-{name[:12]}-000010"
        event = Reading(
            id=f"p-{note}-2", utterance=note, by="person", who="Anna", words="ignored", at=now
        )
        item = make_item("event", event_body(name, event, heard=False), commit_time(now))
        self._lines.append(_Line(item.id, item.line()))
        self._events += 1

    def finish(self) -> int:
        """Write what is left; how many events there were."""
        self._flush()
        self._file.write_text(json.dumps({"seen": self._seen[0], "number": self._number}))
        return self._events

    def _flush(self) -> None:
        if not self._lines:
            return
        header = _header(self._author, self._number, self._seen)
        lines: Any = tuple(self._lines)  # nothing but their ids and lines is asked for
        segment = SealedSegment.model_construct(header=header, items=lines, seals=None)
        self._place.write(segment, self._author.device)
        self._seen, self._number = (segment.id,), self._number + 1
        self._lines, self._size = [], 0


def _header(author: Author, number: int, seen: tuple[str, ...]) -> SegmentHeader:
    return SegmentHeader(
        kennel=author.kennel, device=author.device, number=number, seen=seen, name=author.name,
        program=__version__, sealed_at=commit_time(datetime.now(UTC)),
    )  # fmt: skip


def _template(told: Sequence[Event]) -> Iterator[tuple[bool, str, str]]:
    """Of each event whether a machine made it, what its item's id is the hash of, and its line."""
    judged = {one.utterance for one in told if isinstance(one, Verdict)}
    for one in told:
        heard = made_by_machine(one, judged)
        body = event_body(_NAME, one, heard=heard)
        whole = json.dumps(
            ["event", body], sort_keys=True, ensure_ascii=False, separators=(",", ":")
        )
        item = make_item("event", body, commit_time(datetime(2020, 1, 1)))
        assert hashlib.sha256(whole.encode()).hexdigest() == item.id == item_id("event", body)
        yield heard, whole, item.line().replace(item.at, _AT, 1)


def _mine(text: str, name: str, dog: str) -> str:
    """A template's text with another recording and dog."""
    text = text.replace(_NAME, name).replace(_NAME[:12], name[:12])
    return text.replace(_DOG, dog).replace(_DOG.lower(), dog.lower())


def _name_body(recording: str, dog: str) -> str:
    return json.dumps([recording, dog], separators=(",", ":"))
