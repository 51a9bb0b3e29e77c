"""The roster as a growing list of versions: the newest of each name wins.

A name is known without regard to letter case, and is spelt as it was put last, so that two
laptops that spell it differently come to the same dog. A removal is a version too, so what the
roster was at any time can still be read. Every function works within the caller's transaction.
"""

from __future__ import annotations

from datetime import datetime
from typing import Literal

from sqlalchemy import Connection, func, insert, select

from voicelog.model import Dog, FrozenModel, Roster
from voicelog.model.names import name_key, tidy_name
from voicelog.store import tombstones
from voicelog.store.commit_time import COMMIT_TIME_PATTERN, CommitClock
from voicelog.store.errors import UnknownNameError
from voicelog.store.schema import profiles

__all__ = [
    "RosterVersion",
    "Who",
    "check",
    "known",
    "put",
    "remove",
    "roster",
    "spellings",
    "take",
    "versions",
]

Who = Literal["dog", "handler"]

_TIME = (profiles.c.put_at, profiles.c.kind, profiles.c.name, profiles.c.body)
_BY_TIME = select(profiles).order_by(*_TIME)


def roster(connection: Connection) -> Roster:
    """The dogs and handlers as last put, in the order they were first put. `connection` is in a
    transaction."""
    dogs: dict[str, Dog | None] = {}
    handlers: dict[str, str | None] = {}
    for row in connection.execute(_BY_TIME):
        key = name_key(row.name)
        if row.kind == "dog":
            dogs[key] = None if row.removed else _dog(row.body, row.name)
        elif row.kind == "handler":
            handlers[key] = None if row.removed else row.name
    return Roster(
        dogs=tuple(dog for dog in dogs.values() if dog is not None),
        handlers=tuple(name for name in handlers.values() if name is not None),
    )


def _dog(body: str, name: str) -> Dog:
    """A profile under the name that its version is put under, whatever is written in it."""
    dog = Dog.model_validate_json(body)
    return dog if dog.name == name else dog.model_copy(update={"name": tidy_name(name)})


def spellings(connection: Connection) -> dict[str, str]:
    """How each dog is spelt that was ever put, by its `name_key`. `connection` is in a
    transaction."""
    names = select(profiles.c.name).where(profiles.c.kind == "dog")
    return {name_key(name): tidy_name(name) for name in connection.scalars(names.order_by(*_TIME))}


class RosterVersion(FrozenModel):
    """What was said of a name at some time; `body` is the dog as JSON, None for a handler.

    A log of an earlier build may hold a third kind, "voice": what was fitted to how a handler
    speaks, when listeners still were, and named in those listeners' names ("... voice anna 1").
    Nothing reads it any more, but a log only grows: it is kept, backed up and merged as it is.
    """

    kind: Who | Literal["voice"]
    name: str
    body: str | None
    removed: bool
    put_at: str
    """See `voicelog.store.commit_time`."""


def check(version: RosterVersion) -> None:
    """Raises ValueError where a version is not such that the roster can be read with it."""
    if not COMMIT_TIME_PATTERN.fullmatch(version.put_at) or not tidy_name(version.name):
        raise ValueError("no version of a roster")
    if version.kind == "dog" and not version.removed:
        _dog(version.body or "", version.name)


def versions(connection: Connection) -> tuple[RosterVersion, ...]:
    """Every version, oldest first. `connection` is in a transaction."""
    rows = connection.execute(_BY_TIME)
    fields = RosterVersion.model_fields
    return tuple(
        RosterVersion.model_validate({name: getattr(row, name) for name in fields}) for row in rows
    )


def take(connection: Connection, version: RosterVersion) -> bool:
    """Insert a version of another log in its place by time; False when it is here already.
    `connection` is in a transaction."""
    columns = version.model_dump() | {"key": name_key(version.name)}
    same = [profiles.c[name].is_(value) for name, value in columns.items()]
    if connection.scalar(select(profiles.c.seq).where(*same)) is not None:
        return False
    connection.execute(insert(profiles).values(columns))
    return True


def known(connection: Connection, kind: Who, name: str) -> bool:
    """Whether there ever was that name."""
    same = (profiles.c.kind == kind, profiles.c.key == name_key(name))
    return connection.scalar(select(profiles.c.seq).where(*same)) is not None


def put(connection: Connection, kind: Who, name: str, body: str | None, at: datetime) -> None:
    """Add a version; `body` is the dog as JSON, None for a handler."""
    _version(connection, kind, name, body, False, at)


def remove(connection: Connection, kind: Who, name: str, at: datetime) -> None:
    """Add the version that says a name is gone.

    Raises:
        UnknownNameError: it is not on the roster.
    """
    now = roster(connection)
    have = {
        "dog": tuple(dog.name for dog in now.dogs),
        "handler": now.handlers,
    }[kind]
    if name_key(name) not in {name_key(known) for known in have}:
        raise UnknownNameError(kind, name, have)
    _version(connection, kind, name, None, True, at)


def _version(
    connection: Connection, kind: Who, name: str, body: str | None, removed: bool, at: datetime
) -> None:
    last = connection.scalar(select(func.max(profiles.c.put_at)))
    gone = tombstones.since(connection, "dog", tombstones.dog_id(name)) if kind == "dog" else None
    known = [one for one in (last, gone) if one is not None]
    connection.execute(
        insert(profiles).values(
            kind=kind,
            key=name_key(name),
            name=name,
            body=body,
            removed=removed,
            put_at=CommitClock(max(known, default=None)).of(at),
        )
    )
