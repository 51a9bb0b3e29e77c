"""Rows of the log as items, and items as rows: recordings and what they hold alike."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from functools import cached_property
from typing import Any

from sqlalchemy import Connection, func, select

from voicelog.model import FrozenModel, Roster
from voicelog.model.names import name_key
from voicelog.store import contents as kept_contents
from voicelog.store import tombstones
from voicelog.store.commit_time import commit_time
from voicelog.store.records import StoredRecording
from voicelog.store.schema import contents, recordings, share_items
from voicelog.store.schema import tombstones as stones
from voicelog.store.share.items import Item, make_item, read_item

__all__ = ["EffectiveRow", "RowCache", "content_items", "effective_row", "row_of"]

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


class RowCache:
    """What rows name by their hashes, read once in a transaction in which no dog is deleted and
    nothing that was kept is dropped. `connection` is in it."""

    def __init__(self, connection: Connection) -> None:
        self.connection = connection
        self._texts: dict[str, Any] = {}
        self._rosters: dict[str, Roster] = {}
        self._kept: dict[tuple[str, str, frozenset[str]], dict[str, Any]] = {}

    @cached_property
    def deleted_dogs(self) -> Mapping[str, str]:
        """Until when dogs were deleted, by the hash of the name."""
        query = select(stones.c.id, func.max(stones.c.deleted_at)).where(stones.c.kind == "dog")
        rows = self.connection.execute(query.group_by(stones.c.id))
        return {row[0]: row[1] for row in rows}

    def text(self, name: str | None, missing: Any) -> Any:
        """What has that hash, as JSON values, from the log or from what came with the share;
        `missing` without it."""
        if name is None:
            return missing
        if name not in self._texts:
            query = select(contents.c.body).where(contents.c.hash == name)
            body = self.connection.scalar(query)
            if body is None:
                came = select(share_items.c.line).where(
                    share_items.c.kind == "content", share_items.c.ref == name
                )
                line = self.connection.scalar(came)
                body = read_item(line.encode()).body["body"] if line is not None else None
            if body is None:  # it may come yet
                return missing
            self._texts[name] = json.loads(body)
        return self._texts[name]

    def roster(self, name: str) -> Roster:
        """The roster of that hash, with those of its dogs of which the profile is there.

        Raises:
            ValueError, KeyError, TypeError: it is not as this program knows it.
        """
        if name not in self._rosters:
            body = self.text(name, {"dogs": [], "handlers": []})
            dogs = [self.text(dog, None) for dog in body["dogs"]]
            whole = Roster.model_validate(
                {**body, "dogs": [one for one in dogs if one is not None]}
            )
            if name not in self._texts or None in dogs:
                return whole
            self._rosters[name] = whole
        return self._rosters[name]

    def kept(
        self, row: Mapping[str, Any], gone: frozenset[str], left: StoredRecording
    ) -> Mapping[str, Any]:
        """Hashes of the roster and the settings of a row as they hold here, without the dogs that
        are gone (by their keys): `left` has them."""
        key = (row["roster"], row["settings"], gone)
        if key not in self._kept or row["roster"] not in self._rosters:
            told = left.model_dump(mode="json", include={"roster", "settings"})
            self._kept[key] = kept_contents.shared(self.connection, told)
        return self._kept[key]


class EffectiveRow(FrozenModel):
    """A recording's row as it holds here: its columns, and the recording that they make."""

    values: Mapping[str, Any]
    recording: StoredRecording


def effective_row(row: Mapping[str, Any], known: RowCache) -> EffectiveRow:
    """A row as it holds here: what it names is put in, and dogs that were deleted are taken out.

    Raises:
        ValueError, KeyError, TypeError: it is not as this program knows it.
    """
    named = {
        "roster": known.roster(row["roster"]),
        "settings": known.text(row["settings"], {}),
        "dog": known.text(row["dog"], [None, None])[1],
    }
    whole = StoredRecording.model_validate({**row, **named, "complete": True})
    left, gone = whole, frozenset[str]()
    if known.deleted_dogs:
        gone = frozenset(
            name_key(name)
            for name in {*(dog.name for dog in whole.roster.dogs), *_named(whole)}
            if (since := known.deleted_dogs.get(tombstones.dog_id(name)))
            and commit_time(whole.added_at) <= since
        )
    if gone:
        left = _without(whole, gone)
    values = {**row, **known.kept(row, gone, left), "dog": left.dog}
    return EffectiveRow(values=values, recording=left)


def _without(whole: StoredRecording, gone: frozenset[str]) -> StoredRecording:
    """A recording without dogs, by their keys."""
    dogs = tuple(dog for dog in whole.roster.dogs if name_key(dog.name) not in gone)
    settings = dict(whole.settings)
    if isinstance(settings.get("dog"), dict):
        own = settings["dog"].items()
        settings["dog"] = {name: one for name, one in own if name_key(name) not in gone}
    return whole.model_copy(
        update={
            "roster": whole.roster.model_copy(update={"dogs": dogs}),
            "settings": settings,
            "dog": None if whole.dog is not None and name_key(whole.dog) in gone else whole.dog,
        }
    )


def _named(whole: StoredRecording) -> set[str]:
    """The dogs that a recording names beside its roster."""
    own = whole.settings.get("dog")
    names = set(own) if isinstance(own, dict) else set()
    return names | ({whole.dog} if whole.dog is not None else set())
