"""What travels between devices, and by what it is known: the hash of the whole of it.

An item is a kind and a body of JSON values. Its id is the sha256 of both in one canonical form, so
that two devices that made the same thing made one item, and nothing can be changed under its id.
When it was committed stands beside it: a claim of each device's clock, of which the earliest holds.

An item of which the owner deleted the text stays as its id, so that what was built on it holds.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import Field, model_validator

from voicelog.model import Event, FrozenModel, MatterEvent
from voicelog.store.commit_time import COMMIT_TIME_PATTERN
from voicelog.store.records import SHA256
from voicelog.store.roster_versions import RosterVersion
from voicelog.store.share.signing import PublicKey

__all__ = [
    "KNOWN_KINDS",
    "ContentItem",
    "DeletionItem",
    "EventItem",
    "HearingItem",
    "Item",
    "ItemKind",
    "KeyItem",
    "SettingsItem",
    "event_body",
    "item_id",
    "make_item",
    "read_item",
    "typed_body",
]

ItemKind = Literal[
    "content", "event", "hearing", "profile", "matter", "deletion", "settings", "key"
]

KNOWN_KINDS: frozenset[str] = frozenset(
    ("content", "event", "hearing", "profile", "matter", "deletion", "settings", "key")
)
"""Kinds that this program folds; any other is kept as it is."""

_Hash = Annotated[str, Field(pattern=f"^{SHA256}$")]
_Id = Annotated[str, Field(min_length=1, max_length=200)]


class ContentItem(FrozenModel):
    """What many recordings hold alike: a roster, a dog's profile or settings, as JSON text; see
    `voicelog.store.contents`. Or the "name" of a recording's dog, apart from the rest, so that it
    can be deleted: a list of the recording's id and that name."""

    kind: Literal["roster", "dog", "settings", "name"]
    body: str


class EventItem(FrozenModel):
    """An event, and the recording that it belongs to. `heard`: a hearing holds it, and without that
    it says nothing."""

    recording: _Id
    heard: bool = False
    event: Event


class HearingItem(FrozenModel):
    """A recording as one device heard it, or heard it again.

    `row` is the recording's row, its roster, settings and dog by their hashes; `events` are the
    ids of all items that a machine made of it by then. `root` is the hearing that this one goes on
    from in the end, None where it is the first of its line; `depth` counts those between.
    """

    recording: _Id
    root: _Hash | None = None
    depth: int = Field(default=0, ge=0, le=1_000_000)
    row: Mapping[str, Any]
    events: tuple[_Hash, ...] = Field(default=(), max_length=200_000)

    @model_validator(mode="after")
    def _names_by_hashes(self) -> HearingItem:
        named = (self.row.get("roster"), self.row.get("settings"), self.row.get("dog") or "")
        if not all(isinstance(one, str) for one in named):
            raise ValueError("a row names roster, settings and dog by their hashes")
        return self


class DeletionItem(FrozenModel):
    """What the owner deleted, as `voicelog.store.tombstones` has it; times in s."""

    kind: Literal["event", "recording", "span", "hush", "dog", "matter"]
    id: _Id
    from_s: float | None = Field(default=None, allow_inf_nan=False)
    to_s: float | None = Field(default=None, allow_inf_nan=False)
    until: str | None = Field(default=None, pattern=COMMIT_TIME_PATTERN.pattern)
    """Of a dog: what was put on the roster until then."""


class SettingsItem(FrozenModel):
    """The settings file as text, and how many there were before it."""

    text: str = Field(max_length=200_000)
    turn: int = Field(ge=0, le=1_000_000_000)


class KeyItem(FrozenModel):
    """Whether what is signed by a device's key counts; said by the device that began the share, in
    its segments alone. `turn` goes up with each: of two on one key the later holds."""

    key: PublicKey
    name: str = Field(default="", max_length=80)
    allowed: bool
    turn: int = Field(ge=1, le=1_000_000_000)


class Item(FrozenModel):
    """Something that travels. `body` is None where its text was deleted."""

    kind: str = Field(max_length=40)
    body: Any
    at: str = ""
    """When it was committed, see `voicelog.store.commit_time`; empty where that means nothing."""
    id: _Hash

    @property
    def gone(self) -> bool:
        """Whether its text was deleted."""
        return self.body is None

    def line(self) -> str:
        """It as a line of a segment."""
        if self.gone:
            return json.dumps({"gone": self.id})
        return json.dumps(
            {"kind": self.kind, "at": self.at, "body": self.body},
            ensure_ascii=False,
            separators=(",", ":"),
        )


_BODIES: Mapping[str, type[FrozenModel]] = {
    "content": ContentItem,
    "event": EventItem,
    "hearing": HearingItem,
    "profile": RosterVersion,
    "matter": MatterEvent,
    "deletion": DeletionItem,
    "settings": SettingsItem,
    "key": KeyItem,
}


def item_id(kind: str, body: Any) -> str:
    """The id of an item: sha256 of its kind and body, lower-case hexadecimal.

    Raises:
        ValueError: the body holds what JSON cannot (infinity, not-a-number, half a character).
    """
    whole = json.dumps(
        [kind, body], sort_keys=True, ensure_ascii=False, separators=(",", ":"), allow_nan=False
    )
    return hashlib.sha256(whole.encode()).hexdigest()


def make_item(kind: ItemKind, body: Any, at: str = "") -> Item:
    """An item of a kind; `body` are JSON values."""
    return Item(kind=kind, body=body, at=at, id=item_id(kind, body))


def event_body(recording: str, event: Event, *, heard: bool) -> dict[str, Any]:
    """The body of an event's item: what is as by default is left out, so that a later program
    with more fields comes to the same id."""
    told = event.model_dump(mode="json", exclude_defaults=True)
    told = {"recording": recording, "event": told | {"event": event.event}}
    return told | {"heard": True} if heard else told


def read_item(line: bytes) -> Item:
    """An item from a line of a segment.

    Raises:
        ValueError, TypeError, KeyError, RecursionError: it is none.
    """
    whole = json.loads(line)
    if set(whole) == {"gone"}:
        return Item(kind="gone", body=None, id=whole["gone"])
    kind, at, body = whole["kind"], whole["at"], whole["body"]
    if not isinstance(kind, str) or body is None:
        raise ValueError("no item")
    if at and not COMMIT_TIME_PATTERN.fullmatch(at):
        raise ValueError("no time of commit")
    return Item(kind=kind, body=body, at=at, id=item_id(kind, body))


def typed_body(item: Item) -> FrozenModel:
    """The body of an item of a known kind as its record.

    Raises:
        ValueError: it is not as this program knows it.
    """
    return _BODIES[item.kind].model_validate_json(json.dumps(item.body))
