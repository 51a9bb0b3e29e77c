"""What many recordings hold alike, kept once: rosters, profiles and settings by their hash.

A recording keeps the roster and the settings that it was heard with. With 200 dogs that is some
60 kB, the same in every recording of a season, so its row has their hashes, and the table
`contents` the text. A hash says also whether the text is still what it was.

Every function works within the caller's transaction.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, MutableMapping, Sequence
from typing import Any

from sqlalchemy import Connection, delete, insert, select

from voicelog.model import Dog, Roster
from voicelog.store.schema import contents, recordings

__all__ = ["ContentCache", "content_hash", "drop_unused", "filled", "shared", "unlike_their_hash"]

ContentCache = MutableMapping[str, Any]
"""What was read before, by its hash; it never changes."""


def content_hash(body: str) -> str:
    """The sha256 of a text, lower-case hexadecimal."""
    return hashlib.sha256(body.encode()).hexdigest()


def shared(connection: Connection, row: Mapping[str, Any]) -> dict[str, Any]:
    """A row of `recordings` with hashes for its roster and settings, which are kept where they
    are new. `row` may have only some of the columns; what has another shape than a roster's stays
    as it is."""
    changed = dict(row)
    roster = row.get("roster")
    if isinstance(roster, dict) and isinstance(roster.get("dogs"), list | tuple):
        dogs = [json.dumps(dog, separators=(",", ":")) for dog in roster["dogs"]]
        people = {**roster, "dogs": list(map(content_hash, dogs))}
        changed["roster"] = _kept(
            connection, "roster", json.dumps(people, separators=(",", ":")), dogs
        )
    if isinstance(row.get("settings"), dict):
        body = json.dumps(row["settings"], separators=(",", ":"))
        changed["settings"] = _kept(connection, "settings", body)
    return changed


def filled(connection: Connection, row: Mapping[str, Any], known: ContentCache) -> dict[str, Any]:
    """A row of `recordings` with its roster and settings in place of their hashes.

    Raises:
        ValueError: one of them is not there, or not as this program knows it.
    """
    whole = dict(row)
    if isinstance(row["roster"], str):
        if row["roster"] not in known:
            body = _body(connection, row["roster"])
            for one in body["dogs"]:
                if one not in known:
                    known[one] = Dog.model_validate(_body(connection, one))
            dogs = tuple(known[one] for one in body["dogs"])
            known[row["roster"]] = Roster.model_validate({**body, "dogs": dogs})
        whole["roster"] = known[row["roster"]]
    if isinstance(row["settings"], str):
        if row["settings"] not in known:
            known[row["settings"]] = _body(connection, row["settings"])
        whole["settings"] = known[row["settings"]]
    return whole


def drop_unused(connection: Connection) -> None:
    """Delete what no recording has any more."""
    used: set[str] = set()
    for roster, settings in connection.execute(
        select(recordings.c.roster, recordings.c.settings).distinct()
    ):
        used.update(one for one in (roster, settings) if isinstance(one, str))
    rosters = select(contents.c.hash, contents.c.body).where(contents.c.kind == "roster")
    for name, body in connection.execute(rosters).all():
        if name in used:
            used.update(json.loads(body)["dogs"])
    for name in set(connection.scalars(select(contents.c.hash))) - used:
        connection.execute(delete(contents).where(contents.c.hash == name))


def unlike_their_hash(connection: Connection) -> tuple[str, ...]:
    """The hashes of what is not what it was when it was kept."""
    rows = connection.execute(select(contents.c.hash, contents.c.body).order_by(contents.c.hash))
    return tuple(name for name, body in rows if content_hash(body) != name)


def _kept(connection: Connection, kind: str, body: str, dogs: Sequence[str] = ()) -> str:
    """The hash of a text that is kept, with the dogs that it names, where it is new."""
    name = content_hash(body)
    if connection.scalar(select(contents.c.hash).where(contents.c.hash == name)) is None:
        for dog in dict.fromkeys(dogs):
            _kept(connection, "dog", dog)
        connection.execute(insert(contents).values(hash=name, kind=kind, body=body))
    return name


def _body(connection: Connection, name: str) -> Any:
    body = connection.scalar(select(contents.c.body).where(contents.c.hash == name))
    if body is None:
        raise ValueError("its roster or its settings are not there")
    return json.loads(body)
