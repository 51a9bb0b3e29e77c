"""A kennel of invented devices that do and forget things at random, for the tests of sharing."""

from __future__ import annotations

import random
import shutil
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from sqlalchemy import select

from tests.store.log_cases import sha
from voicelog.model import (
    Action,
    CueMeaning,
    Dog,
    Event,
    MatterEvent,
    Reading,
    Roster,
    Utterance,
    Verdict,
)
from voicelog.store import (
    DeletedError,
    Log,
    LogError,
    Recording,
    StoredRecording,
    deletion,
)
from voicelog.store.recording_part import recording_part
from voicelog.store.schema import profiles
from voicelog.store.share import tables
from voicelog.store.share.asides import asides
from voicelog.store.share.exchange import Exchanged, author_of, exchange, heads_of, join, repair
from voicelog.store.share.place import SharePlace
from voicelog.store.share.rows import row_of
from voicelog.store.share.showing import Trial

DOGS = ("Bramble", "Thorn", "Wren")


def fussy(given: Sequence[tuple[StoredRecording, Sequence[Event]]]) -> list[str | None]:
    """A program that cannot derive a reading of "poison", nor two of "half of it"."""
    said = [[one.words for one in told if isinstance(one, Reading)] for _, told in given]
    bad = ("poison" in words or words.count("half of it") > 1 for words in said)
    return ["poison" if one else None for one in bad]


class Device:
    """A log, its copy of the shared folder, and a clock that may be off by years."""

    def __init__(self, folder: Path, name: str, year: int) -> None:
        self.name, self.folder = name, folder / name
        self._at = datetime(year, 3, 1, tzinfo=UTC)
        self.log = Log.open(self.folder / "log", now=self.now)
        self.share = self.folder / "share"
        self._count = 0
        self.gone: set[str] = set()
        """Recordings and events that were deleted here."""

    def now(self) -> datetime:
        self._at += timedelta(seconds=1)
        return self._at

    def jump(self, days: int) -> None:
        year = min(max((self._at + timedelta(days=days)).year, 1960), 2190)
        self._at = (self._at + timedelta(days=days)).replace(year=year)

    def join(self, *, make: bool = False) -> None:
        """Share the log; names are not random, so that a history can be lived again."""
        if make:
            self.share.mkdir(parents=True, exist_ok=True)
            text = '{"voicelog_share": 1, "kennel": "invented"}'
            (self.share / "kennel.json").write_text(text)
        with self.log.writing() as connection:
            tables.put(connection, "device", sha(self.name)[:16])
        join(self.log, SharePlace.open(self.share, self.log.folder, make=make), self.name)

    def exchange(self, trial: Trial = fussy) -> Exchanged:
        found = author_of(self.log)
        assert found is not None
        place = SharePlace.open(self.share, self.log.folder, make=False)
        return exchange(self.log, place, found[0], trial=trial)

    @property
    def device(self) -> str:
        found = author_of(self.log)
        assert found is not None
        return found[0].device

    def repair(self) -> None:
        found = author_of(self.log)
        assert found is not None
        repair(self.log, SharePlace.open(self.share, self.log.folder, make=False), found[0])

    def fresh(self, kind: str) -> str:
        self._count += 1
        return f"{kind}-{self.name}-{self._count}"

    # --- what people and machines do -----------------------------------------------------

    def add(self, sound: int, listener: int, dog: str) -> None:
        """Hear a sound with one of several listeners, which cut it and hear it otherwise."""
        name = sha(f"sound {sound}")
        kept = Recording(
            id=name,
            sha256=name,
            file_name=f"{sound}.wav",
            duration_s=20.0,
            dog=dog,
            roster=Roster(dogs=tuple(Dog(name=one) for one in DOGS)),
            settings={"dog": {dog: {"presses_adult": 9}}},
            listeners=(f"listener {listener}",),
        )
        try:
            if self.log.begin_recording(kept):
                self.log.append(heard(name, listener))
                self.log.finish_recording(name)
        except DeletedError:
            return

    def act(self, rng: random.Random) -> None:
        """A person reads, strikes, confirms or takes back something."""
        told = self._events(rng)
        utterances = [one for one in told if isinstance(one, Utterance)]
        if not utterances:
            return
        chosen = rng.choice(utterances).id
        at = self.now()
        own = [one for one in told if one.id.startswith(("r-", "a-"))]
        event: Event
        match rng.randrange(4):
            case 0:
                event = Action(
                    id=self.fresh("a"), action="void", target=chosen, who=self.name, at=at
                )
            case 1 if own:
                target = rng.choice(own).id
                event = Action(
                    id=self.fresh("a"), action="undo", target=target, who=self.name, at=at
                )
            case _:
                event = Reading(
                    id=self.fresh("r"),
                    utterance=chosen,
                    words=f"level {rng.randrange(9)}",
                    by="person",
                    who=self.name,
                    at=at,
                )
        self.log.append([event])

    def poison(self, rng: random.Random) -> None:
        """A person reads what other programs cannot derive, and goes on from there."""
        told = self._events(rng)
        utterances = [one for one in told if isinstance(one, Utterance)]
        if utterances:
            name = self.fresh("r-x")
            reading = Reading(
                id=name,
                utterance=rng.choice(utterances).id,
                words=rng.choice(["poison", "half of it", "half of it"]),
                by="person",
                who=self.name,
            )
            undone = Action(id=self.fresh("a"), action="undo", target=name, who=self.name)
            self.log.append([reading, undone] if rng.randrange(2) else [reading])

    def put_in(self, rng: random.Random) -> None:
        """A person adds a note that nobody heard."""
        recordings = self.log.recordings()
        if recordings:
            name, start = self.fresh("p"), rng.randrange(20)
            recording = rng.choice(recordings).id
            self.log.append(
                [
                    Utterance(id=name, recording=recording, start_s=start, end_s=start + 1),
                    Reading(id=f"r-{name}", utterance=name, words="came", by="person", who="x"),
                ]
            )

    def rehear(self, rng: random.Random) -> None:
        """The sound of an utterance nobody touched falls apart otherwise."""
        told = self._events(rng)
        touched = {one.utterance for one in told if isinstance(one, Reading) and one.by == "person"}
        for one in told:
            if isinstance(one, Utterance) and one.id.startswith("u-") and one.id not in touched:
                before = [x for x in told if isinstance(x, Verdict) and x.utterance == one.id]
                if not before or before[-1].replaced_by:
                    continue
                name = f"{one.id}-{rng.randrange(2)}"
                self.log.append(
                    [
                        one.model_copy(update={"id": name, "end_s": one.end_s - 0.1}),
                        Verdict(
                            id=f"v-{name}",
                            utterance=name,
                            status="accepted",
                            words="level two",
                            confidence=0.9,
                            judge="anew",
                        ),
                        Verdict(
                            id=f"v-{one.id}-{name}",
                            utterance=one.id,
                            status="rejected",
                            words="",
                            confidence=0.0,
                            judge="anew",
                            replaced_by=(name,),
                        ),
                    ]
                )
                return

    def roster(self, rng: random.Random) -> None:
        dog = rng.choice(DOGS)
        if rng.randrange(4):
            meaning = CueMeaning(cue="here", meaning=rng.choice(("come", "come in")))
            self.log.put_dog(Dog(name=dog, ceiling=rng.randrange(2, 9), cue_meanings=(meaning,)))
        elif self.log.roster().dog(dog) is not None:
            self.log.remove_dog(dog)

    def matter(self, rng: random.Random) -> None:
        self.log.append_matters(
            [
                MatterEvent(
                    id=self.fresh("m"),
                    do=rng.choice(["close", "reopen"]),
                    kind="stop",
                    entries=(f"u-{rng.randrange(3)}",),
                    who=self.name,
                    reason="fit checked",
                )
            ]
        )

    def delete(self, rng: random.Random) -> None:
        recordings = [one for one in self.log.recordings() if one.complete]
        if not recordings:
            return
        chosen = rng.choice(recordings).id
        told = self.log.events(chosen)
        part = recording_part(chosen, told, (), ())
        if rng.randrange(3):
            start = rng.randrange(0, 18)
            inside = {
                one.id
                for one in told
                if isinstance(one, Utterance) and start <= one.start_s < start + 3
            }
            grown = True
            while grown:
                more = {
                    one.id
                    for one in told
                    if (getattr(one, "utterance", None) or getattr(one, "target", None)) in inside
                } - inside
                grown = bool(more)
                inside |= more
            part = part.model_copy(
                update={
                    "events": frozenset(inside),
                    "stretches": ((start, start + 3.0),),
                    "whole": False,
                }
            )
        deletion.delete_parts(self.log, [part])
        self.gone |= {chosen, *(one.id for one in told)} if part.whole else part.events

    def delete_dog(self, rng: random.Random) -> None:
        try:
            deletion.delete_dog(self.log, rng.choice(DOGS), [])
        except LogError:
            return

    def _events(self, rng: random.Random) -> Sequence[Event]:
        recordings = self.log.recordings()
        return self.log.events(rng.choice(recordings).id) if recordings else ()


def heard(recording: str, listener: int) -> list[Event]:
    """What a listener hears: each cuts the sound otherwise, two begin at the same sample; the
    fourth hears what programs cannot derive."""
    told: list[Event] = []
    for number in range(4):
        start = number * 4 + (0.5 if listener == 2 else 0.0)
        name = f"u-{recording[:12]}-{round(start * 16000):09d}"
        words = "poison" if listener == 3 else f"level {number + listener}"
        end = start + 1.5 + listener / 4
        told += [
            Utterance(id=name, recording=recording, start_s=start, end_s=end),
            Reading(
                id=f"r-{name}", utterance=name, words=words, by="listener", who=f"l {listener}"
            ),
            Verdict(
                id=f"v-{name}",
                utterance=name,
                status="doubtful",
                words=words,
                confidence=0.5 + listener / 10,
                judge="judge",
            ),
        ]
    return told


def carry(source: Path, target: Path, rng: random.Random, share: float, harm: float) -> None:
    """Bring some files of one copy of the folder to another, some of them damaged on the way."""
    target.mkdir(parents=True, exist_ok=True)
    for file in sorted(source.rglob("*")):
        if not file.is_file() or rng.random() > share:
            continue
        copy = target / file.relative_to(source)
        copy.parent.mkdir(parents=True, exist_ok=True)
        data = file.read_bytes()
        if file.suffix == ".seg" and rng.random() < harm:
            match rng.randrange(4):
                case 0:
                    data = data[: len(data) // 2]
                case 1:
                    place = rng.randrange(len(data))
                    data = data[:place] + bytes([data[place] ^ 1]) + data[place + 1 :]
                case 2:
                    copy = copy.with_name(f"{copy.stem}.sync-conflict-1.seg")
                case _:
                    copy = copy.with_name(f"{'0' * 6}-{'a' * 64}-3.seg")
        copy.write_bytes(data)


def view(log: Log) -> dict[str, Any]:
    """All that a log says, without what is only its own: rows' numbers and places of files."""
    rows = {}
    with log.reading() as connection:
        for one in log.recordings():
            rows[one.id] = row_of(connection, one.id)
            assert log.events(one.id) == tuple(told for _, told in log.stamped_events(one.id))
        versions = select(profiles.c.kind, profiles.c.name, profiles.c.body, profiles.c.put_at)
        put = sorted(map(repr, connection.execute(versions)))
    return {
        "rows": rows,
        "events": {one: log.stamped_events(one) for one in rows},
        "roster": log.roster(),
        "versions": put,
        "asides": asides(log),
        "matters": sorted(log.matter_events(), key=lambda one: one.id),
    }


def converge(devices: Sequence[Device], rounds: int = 12) -> int:
    """Bring all to all, and exchange, until nothing is new; how many rounds that took."""
    rng = random.Random(0)
    for number in range(rounds):
        before = {heads_of(one.log) for one in devices}
        for one in devices:
            for other in devices:
                if one is not other:
                    own = f"d-{one.device}"
                    carry(one.share / own, other.share / own, rng, 1.0, 0.0)
        done = [one.exchange() for one in devices]
        if number == 0:
            for one in devices:
                one.repair()
        if len(before) == 1 and not any(one.sealed or one.taken.segments for one in done):
            return number
    raise AssertionError(f"no end after {rounds} rounds")


def clear(folder: Path) -> None:
    shutil.rmtree(folder, ignore_errors=True)
