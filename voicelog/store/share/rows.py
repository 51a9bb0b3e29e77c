"""Rows of the log as items, and items as rows: recordings and what they hold alike."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from typing import Any

from sqlalchemy import Connection, select

from voicelog.model.names import name_key
from voicelog.store import contents as kept_contents
from voicelog.store import tombstones
from voicelog.store.commit_time import commit_time
from voicelog.store.records import StoredRecording
from voicelog.store.schema import contents, recordings, share_items
from voicelog.store.share.items import Item, make_item, read_item

__all__ = ["content_items", "effective_row", "row_of"]

_LOCAL = frozenset({"seq", "sound", "complete"})
"""Columns that say how a recording is here, not what it is."""


def row_of(connection: Connection, recording: str) -> dict[str, Any] | None:
    """A recording's row as it travels, its dog by a hash, None where there is none, or where it is
    not complete."""
    query = select(recordings).where(recordings.c.id == recording, recordings.c.complete)
    row = connection.execute(query).mappings().first()
    if row is None:
        return None
    told = {name: value for name, value in row.items() if name not in _LOCAL}
    if told["dog"] is not None:
        told["dog"] = kept_contents.content_hash(_name_body(recording, told["dog"]))
    return told


def _name_body(recording: str, dog: str) -> str:
    return json.dumps([recording, dog], separators=(",", ":"))


def content_items(connection: Connection, row: Mapping[str, Any]) -> Iterator[tuple[str, Item]]:
    """What a row names by its hash, the dogs of its roster too; each with that hash. `row` is as
    `row_of` has it, of a recording that is here."""
    if row["dog"] is not None:
        query = select(recordings.c.dog).where(recordings.c.id == row["id"])
        body = _name_body(row["id"], str(connection.scalar(query)))
        yield row["dog"], make_item("content", {"kind": "name", "body": body})
    wanted = [row["roster"], row["settings"]]
    while wanted:
        name = wanted.pop(0)
        found = connection.execute(select(contents).where(contents.c.hash == name)).first()
        if found is None:
            continue
        yield name, make_item("content", {"kind": found.kind, "body": found.body})
        if found.kind == "roster":
            wanted += json.loads(found.body)["dogs"]


def effective_row(connection: Connection, row: Mapping[str, Any]) -> dict[str, Any]:
    """A row as it holds here: what it names is put in, and dogs that were deleted are taken out.

    Raises:
        ValueError, KeyError, TypeError: it is not as this program knows it.
    """
    changed = dict(row)
    changed["roster"] = _roster(connection, row["roster"])
    changed["settings"] = _text(connection, row["settings"], {})
    changed["dog"] = _text(connection, row["dog"], [None, None])[1]
    whole = StoredRecording.model_validate({**changed, "complete": True})
    gone = {
        name_key(name)
        for name in {*(dog.name for dog in whole.roster.dogs), *_named(whole)}
        if (since := tombstones.since(connection, "dog", tombstones.dog_id(name)))
        and commit_time(whole.added_at) <= since
    }
    dogs = tuple(dog for dog in whole.roster.dogs if name_key(dog.name) not in gone)
    settings = dict(whole.settings)
    if isinstance(settings.get("dog"), dict):
        own = settings["dog"].items()
        settings["dog"] = {name: one for name, one in own if name_key(name) not in gone}
    left = whole.model_copy(
        update={
            "roster": whole.roster.model_copy(update={"dogs": dogs}),
            "settings": settings,
            "dog": None if whole.dog is not None and name_key(whole.dog) in gone else whole.dog,
        }
    )
    told = left.model_dump(mode="json", include={"roster", "settings", "dog"})
    return changed | kept_contents.shared(connection, told)


def _named(whole: StoredRecording) -> set[str]:
    """The dogs that a recording names beside its roster."""
    own = whole.settings.get("dog")
    names = set(own) if isinstance(own, dict) else set()
    return names | ({whole.dog} if whole.dog is not None else set())


def _roster(connection: Connection, name: str) -> dict[str, Any]:
    """The roster of that hash, with those of its dogs of which the profile is there."""
    body = _text(connection, name, {"dogs": [], "handlers": []})
    dogs = [_text(connection, dog, None) for dog in body["dogs"]]
    return {**body, "dogs": [dog for dog in dogs if dog is not None]}


def _text(connection: Connection, name: str | None, missing: Any) -> Any:
    """What has that hash, from the log or from what came with the share; `missing` without it."""
    if name is None:
        return missing
    query = select(contents.c.body).where(contents.c.hash == name)
    body = connection.scalar(query)
    if body is None:
        came = select(share_items.c.line).where(
            share_items.c.kind == "content", share_items.c.ref == name
        )
        line = connection.scalar(came)
        body = read_item(line.encode()).body["body"] if line is not None else None
    return missing if body is None else json.loads(body)
