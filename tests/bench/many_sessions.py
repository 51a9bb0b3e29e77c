"""Make a long log quickly: by default 10,000 sessions of 20 dogs with 500,000 entries.

    python -m tests.bench.many_sessions FOLDER [--sessions 10000] [--dogs 20] [--seed 1] [--calm]

All of it is invented. Some hundred sessions are made word by word and derived by the program
itself; the rest are these with another dog, day and id, written to the database at once, events
and cache alike, so that the log opens as one that grew over years. There is no sound in it.
A folder that has a log already is left as it is.

In these sessions signs of stress come often, so that nearly every one leaves an open matter, far
more than any dog's work does. With `--calm` they come in one session in ten.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import random
import sqlite3
import time
import zlib
from collections.abc import Iterator, Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from sqlalchemy import create_engine

from voicelog.app.session_catalog import SessionCatalog
from voicelog.grammar.grammar import Grammar
from voicelog.model import Action, Dog, Event, Reading, Roster, Transmitter, Utterance, Verdict
from voicelog.store import CacheRow, Log, Recording
from voicelog.store.commit_time import commit_time
from voicelog.store.contents import shared

__all__ = ["DOGS", "make", "session_events"]

ENTRIES = 50
TEMPLATES = 120
FIRST_DAY = date(2020, 1, 1)
DOGS = (
    *("Bracken", "Wren", "Sedge", "Tansy", "Rook", "Juniper", "Pip", "Merle", "Otter", "Flint"),
    *("Briar", "Teal", "Hazel", "Moss", "Linnet", "Quill", "Thistle", "Ash", "Fern", "Drake"),
)
_STAND_IN = "Placeholder"
_STAND_IN_DAY = date(1999, 1, 1)
_NOISE = ("good girl come on then", "leave it", "he is off again", "that wind")
_SIGNS = ("neck twitch", "ear flick", "head turn", "nothing", "scratching", "yelped", "lip lick")
_CALM_SIGNS = tuple(sign for sign in _SIGNS if sign not in ("yelped", "lip lick"))
_ENDS = ("came", "came", "came", "came slow", "ignored", "line help", "peeled off")
_UNIT = Transmitter(top=20)


def make(
    folder: Path, sessions: int = 10_000, dogs: int = 20, seed: int = 1, *, calm: bool = False
) -> float:
    """Write the log into `folder`; seconds that took, 0 where a log was there already."""
    if (folder / "log.sqlite3").exists():
        return 0.0
    start = time.perf_counter()
    names = _names(dogs)
    with Log.open(folder, now=lambda: datetime(2026, 1, 1, tzinfo=UTC)) as log:
        for name in names:
            log.put_dog(Dog(name=name, transmitter=_UNIT))
        log.put_handler("Anna")
        roster = log.roster()
    templates = _templates(folder / "templates", random.Random(seed), calm=calm)
    _write(folder / "log.sqlite3", templates, names, roster, sessions)
    return time.perf_counter() - start


def _names(dogs: int) -> tuple[str, ...]:
    """So many names: those of `DOGS`, then two of them in one."""
    double = (f"{one} {other}" for one in DOGS for other in DOGS if one != other)
    return (*DOGS, *double)[:dogs]


# --- a session word by word ------------------------------------------------------------


def session_events(
    recording: str, grammar: Grammar, chance: random.Random, dog: str, *, calm: bool = True
) -> Iterator[Event]:
    """What was heard in an invented session of a dog, as events of a recording."""
    yield from _events(recording, grammar, chance, _CALM_SIGNS if calm else _SIGNS, dog)


def _lines(chance: random.Random, signs: Sequence[str] = _SIGNS) -> Iterator[str]:
    """What is said in a session: `ENTRIES` lines, every rep in pieces."""
    yield f"start session {_STAND_IN}"
    yield chance.choice(("drill recall", "drill recall", "drill place", "drill steady"))
    yield f"distraction {chance.choice(('none', 'low', 'medium', 'high'))}"
    yield f"location {chance.choice(('yard', 'field', 'woods', 'water'))}"
    yield from ("collar fitted", "fit check two fingers", "contact solid")
    yield from ("here", "vibrate", chance.choice(signs), "came")
    level, said = chance.randint(1, 4), 11
    while said < ENTRIES - 1:
        level = max(1, min(12, level + chance.choice((-1, 0, 0, 1))))
        button = chance.choice((f"level {level}", f"level {level}", "no button", f"tap {level}"))
        rep = ["here", button, chance.choice(signs), chance.choice(_ENDS)]
        if chance.random() < 0.3:
            rep.append("thumb off")
        rep = rep[: ENTRIES - 1 - said]
        yield from rep
        said += len(rep)
    yield "end session"


def _events(
    recording: str,
    grammar: Grammar,
    chance: random.Random,
    signs: Sequence[str],
    dog: str = _STAND_IN,
) -> Iterator[Event]:
    start_s = 0.0
    lines = (line.replace(_STAND_IN, dog) for line in _lines(chance, signs))
    for number, words in enumerate(map(grammar.verbalize, lines)):
        name, length = f"u-{recording[:12]}-{number:06d}", chance.uniform(0.5, 1.5)
        yield Utterance(id=name, recording=recording, start_s=start_s, end_s=start_s + length)
        start_s += length + chance.uniform(1.0, 6.0)
        sure = chance.random()
        status = "accepted" if number == 0 or sure > 0.1 else "doubtful"
        if 7 < number < ENTRIES - 1 and sure < 0.04:
            status, words = "rejected", chance.choice(_NOISE)
        common = {"utterance": name, "words": words, "confidence": round(sure, 3)}
        yield Reading.model_validate(
            {"id": f"{name}.r", "by": "listener", "who": "pocketsphinx 5.1.1 en-us"} | common
        )
        others = ("level two", "came") if status == "doubtful" else ()
        yield Verdict.model_validate(
            {"id": f"{name}.v", "status": status, "alternatives": others, "judge": "judge 1"}
            | common
        )
        if status == "doubtful" and chance.random() < 0.3:
            yield Action(
                id=f"{name}.c", action="confirm", target=name, value=words, who="Anna",
                at=datetime(1999, 1, 1, 20, tzinfo=UTC),
            )  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Template:
    """A session's rows as text in which dog, day and id stand to be replaced."""

    id: str
    duration_s: float
    grammar: str
    events: str
    rows: tuple[CacheRow, ...]


def _templates(folder: Path, chance: random.Random, *, calm: bool) -> list[_Template]:
    """Sessions of one dog, one after the other, derived by the program."""
    roster = Roster(dogs=(Dog(name=_STAND_IN, transmitter=_UNIT),), handlers=("Anna",))
    grammar = Grammar.load(roster=roster)
    ids = [hashlib.sha256(f"invented {number}".encode()).hexdigest() for number in range(TEMPLATES)]
    events = {
        name: tuple(_events(name, grammar, chance, _CALM_SIGNS if calm and number % 10 else _SIGNS))
        for number, name in enumerate(ids)
    }
    with Log.open(folder, now=lambda: datetime(1999, 1, 1, tzinfo=UTC)) as log:
        for number, name in enumerate(ids):
            at = datetime(1999, 1, 1, 7, 30, microsecond=number)
            log.begin_recording(
                Recording(
                    id=name, sha256=name, file_name=f"morning-{name[:6]}.wav", started_at=at,
                    duration_s=300.0, roster=roster, grammar=grammar.name,
                )
            )  # fmt: skip
            log.append(events[name])
            log.finish_recording(name)
        SessionCatalog(log).refresh()
        return [
            _Template(
                id=name,
                duration_s=300.0,
                grammar=grammar.name,
                events="\n".join(map(_as_text, events[name])),
                rows=log.derived_get(name),
            )
            for name in ids
        ]


def _as_text(event: Event) -> str:
    match event:
        case Reading() | Verdict():
            about = event.utterance
        case Action():
            about = event.target
        case _:
            about = ""
    return "\t".join((event.id, about, event.model_dump_json()))


# --- many ------------------------------------------------------------------------------


def _kept_once(path: Path, roster: Roster) -> dict[str, str]:
    """A recording's roster and settings as its row has them: their hashes, the texts kept once."""
    values = {"roster": roster.model_dump(mode="json"), "settings": {}}
    engine = create_engine(f"sqlite:///{path}")
    with engine.begin() as connection:
        found = shared(connection, values)
    engine.dispose()
    return {name: json.dumps(found[name]) for name in values}


def _write(
    path: Path, templates: Sequence[_Template], dogs: Sequence[str], roster: Roster, sessions: int
) -> None:
    heard_with = _kept_once(path, roster)
    with closing(sqlite3.connect(path, isolation_level=None)) as db:
        db.execute("PRAGMA synchronous = OFF")
        db.execute("PRAGMA cache_size = -200000")
        db.execute("BEGIN")
        kept = db.execute(
            "SELECT type, name, sql FROM sqlite_master WHERE sql IS NOT NULL "
            "AND (type = 'trigger' OR (type = 'index' AND tbl_name IN ('events', 'derived')))"
        ).fetchall()
        for kind, name, _ in kept:
            db.execute(f"DROP {kind} {name}")
        seq = 0
        for number in range(sessions):
            round_, place = divmod(number, len(dogs))
            template = templates[(number + round_) % len(templates)]
            day = FIRST_DAY + timedelta(days=2 * round_)
            seq = _one(db, template, number, dogs[place], day, heard_with, seq)
        for _, _, sql in kept:
            db.execute(sql)
        db.execute("COMMIT")
        db.execute("ANALYZE")


def _one(
    db: sqlite3.Connection,
    template: _Template,
    number: int,
    dog: str,
    day: date,
    heard_with: Mapping[str, str],
    seq: int,
) -> int:
    """Write one session; the number of its last event."""
    name = hashlib.sha256(f"session {number}".encode()).hexdigest()

    def mine(text: str) -> str:
        for old, new in (
            (template.id, name),
            (template.id[:12], name[:12]),
            (template.id[:6], name[:6]),
            (_STAND_IN, dog),
            (_STAND_IN.lower(), dog.lower()),
            (_STAND_IN_DAY.isoformat(), day.isoformat()),
        ):
            text = text.replace(old, new)
        return text

    at = datetime(day.year, day.month, day.day, 21)
    row = Recording(
        id=name, sha256=name, file_name=f"morning-{name[:6]}.wav",
        started_at=template.rows[0].moment.replace(year=day.year, month=day.month, day=day.day),
        duration_s=template.duration_s, roster=Roster(), grammar=template.grammar,
    )  # fmt: skip
    values = row.model_dump(mode="json") | dict(heard_with)
    values |= {"added_at": at.isoformat(), "complete": True}
    _insert(db, "recordings", values)
    lines = [line.split("\t") for line in mine(template.events).split("\n")]
    db.executemany(
        "INSERT INTO events (id, recording, about, body, committed_at) VALUES (?, ?, ?, ?, ?)",
        [
            (one, name, about or None, body, commit_time(at + timedelta(microseconds=place)))
            for place, (one, about, body) in enumerate(lines)
        ],
    )
    seq += len(lines)
    for derived in template.rows:
        values = derived.model_dump(mode="json", exclude={"stale"})
        stamp = f"{derived.stamp.partition('/')[0]}/{seq}"
        moment = derived.moment.replace(year=day.year, month=day.month, day=day.day)
        changed = {
            name: mine(value) for name, value in values.items() if isinstance(value, str)
        } | {"stamp": stamp, "moment": moment.isoformat(timespec="microseconds")}
        zipped = {"body": zlib.compress(changed["body"].encode())}
        _insert(db, "derived", values | changed | zipped)
    return seq


def _insert(db: sqlite3.Connection, table: str, values: dict[str, object]) -> None:
    plain = [json.dumps(v) if isinstance(v, dict | list) else v for v in values.values()]
    marks = ", ".join("?" * len(plain))
    db.execute(f"INSERT INTO {table} ({', '.join(values)}) VALUES ({marks})", plain)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--sessions", type=int, default=10_000)
    parser.add_argument("--dogs", type=int, default=20)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--calm", action="store_true")
    given = parser.parse_args()
    took_s = make(given.folder, given.sessions, given.dogs, given.seed, calm=given.calm)
    size = (given.folder / "log.sqlite3").stat().st_size / 1e6
    print(f"{given.sessions} sessions in {took_s:.0f} s, {size:.0f} MB")


if __name__ == "__main__":
    main()
