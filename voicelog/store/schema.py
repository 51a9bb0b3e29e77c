"""The tables as the program uses them; `migrations` is how they came to be.

Recordings, events, matter events and profiles are the truth. Events of both kinds and profiles
are only ever inserted, and go only when the owner deletes them, which leaves a tombstone;
triggers in the database itself hold that against every program. Derived rows may be dropped at
any time.
"""

from __future__ import annotations

from sqlalchemy import (
    JSON,
    Boolean,
    Column,
    Float,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
)

from voicelog.store.column_types import HashColumn, HashesColumn, ZippedColumn

__all__ = [
    "REVISIONS",
    "chain",
    "contents",
    "derived",
    "device",
    "events",
    "hearing_events",
    "hearings",
    "hidden_events",
    "matter_events",
    "metadata",
    "profiles",
    "recordings",
    "share_items",
    "share_segments",
    "share_state",
    "stale_rows",
    "tombstones",
    "unlinked",
]

REVISIONS = ("0001", "0002", "0003", "0004", "0005", "0006", "0007", "0008", "0009")
"""Every schema revision, oldest first; each has its file under migrations/versions."""

metadata = MetaData()

recordings = Table(
    "recordings",
    metadata,
    Column("seq", Integer, primary_key=True, autoincrement=True),
    Column("id", Text, nullable=False, unique=True),
    Column("sha256", Text),
    Column("file_name", Text, nullable=False),
    Column("sound", Text),  # relative to the log's folder
    Column("started_at", Text),  # ISO 8601; without an offset where the zone is not known
    Column("duration_s", Float, nullable=False),
    Column("level", JSON, nullable=False),
    Column("dog", Text),
    Column("roster", JSON, nullable=False),  # a hash, see `voicelog.store.contents`
    Column("settings", JSON, nullable=False),  # likewise
    Column("listeners", JSON, nullable=False),
    Column("grammar", Text, nullable=False),
    Column("added_at", Text, nullable=False),
    Column("complete", Boolean, nullable=False),
    Index("recordings_sha256", "sha256"),
    Index("recordings_complete", "complete", "id", "started_at", "added_at"),
    sqlite_autoincrement=True,
)

events = Table(
    "events",
    metadata,
    Column("seq", Integer, primary_key=True, autoincrement=True),
    Column("id", Text, nullable=False, unique=True),
    Column("recording", Text, ForeignKey("recordings.id"), nullable=False),
    Column("about", Text),  # the utterance, or the target of an action
    Column("body", Text, nullable=False),  # the event as JSON
    Column("committed_at", Text, nullable=False),  # see `voicelog.store.commit_time`
    Index("events_recording", "recording", "seq", "committed_at"),
    Index("events_about", "about"),
    sqlite_autoincrement=True,
)

profiles = Table(
    "profiles",
    metadata,
    Column("seq", Integer, primary_key=True, autoincrement=True),
    Column("kind", Text, nullable=False),  # dog or handler
    Column("key", Text, nullable=False),  # the name without regard to letter case
    Column("name", Text, nullable=False),
    Column("body", Text),  # the dog as JSON; null once removed, and for a handler
    Column("removed", Boolean, nullable=False),
    Column("put_at", Text, nullable=False),  # see `voicelog.store.commit_time`
    Index("profiles_key", "kind", "key", "seq"),
    sqlite_autoincrement=True,
)

tombstones = Table(
    "tombstones",
    metadata,
    Column("seq", Integer, primary_key=True, autoincrement=True),
    Column("kind", Text, nullable=False),  # see `voicelog.store.tombstones`
    Column("id", Text, nullable=False),
    Column("from_s", Float),  # a stretch of a recording, s; null where all is meant
    Column("to_s", Float),
    Column("deleted_at", Text, nullable=False),
    Column("swept", Boolean, nullable=False),  # nothing of it is left on the disk
    Index("tombstones_id", "id", "kind"),
    Index("tombstones_swept", "swept"),
    sqlite_autoincrement=True,
)

matter_events = Table(
    "matter_events",
    metadata,
    Column("seq", Integer, primary_key=True, autoincrement=True),
    Column("id", Text, nullable=False, unique=True),
    Column("body", Text, nullable=False),  # the event as JSON, with the time it was committed
    sqlite_autoincrement=True,
)

contents = Table(
    "contents",
    metadata,
    Column("hash", Text, primary_key=True),
    Column("kind", Text, nullable=False),  # roster, dog or settings
    Column("body", Text, nullable=False),  # JSON
)

device = Table(
    "device",  # one row
    metadata,
    Column("id", Text, primary_key=True),
)

chain = Table(
    "chain",  # see `voicelog.store.chain`
    metadata,
    Column("seq", Integer, primary_key=True, autoincrement=True),
    Column("kind", Text, nullable=False),
    Column("ref", Integer, nullable=False),  # seq of the row that is linked
    Column("salt", LargeBinary),  # with the content, null once the row was deleted
    Column("content", LargeBinary),
    Column("link", LargeBinary, nullable=False),
    Index("chain_ref", "ref", "kind"),
    sqlite_autoincrement=True,
)

unlinked = Table(
    "unlinked",  # empty between transactions, but for what another program wrote
    metadata,
    Column("seq", Integer, primary_key=True),
    Column("kind", Text, nullable=False),
    Column("ref", Integer, nullable=False),
    Column("strange", Boolean, nullable=False),
)

derived = Table(
    "derived",
    metadata,
    Column("key", Text, primary_key=True),
    Column("recording", Text, ForeignKey("recordings.id"), nullable=False),
    Column("stamp", Text, nullable=False),
    Column("dog", Text),
    Column("day", Text),
    Column("moment", Text, nullable=False),  # wall time without a zone, to microseconds
    Column("worst", Text),
    Column("counts", JSON, nullable=False),
    Column("words", Text, nullable=False),
    Column("trace", Text, nullable=False),
    Column("digest", Text, nullable=False),
    Column("matters", Text, nullable=False),  # JSON; empty where there is none
    Column("body", ZippedColumn, nullable=False),  # last, since it is long
    Index("derived_recording", "recording"),
    Index("derived_dog", "dog", "moment", "key"),
    Index(
        "derived_list",
        *("moment", "key", "recording", "dog", "day", "worst", "counts", "words"),
    ),
)
Index("derived_matters", derived.c.key, sqlite_where=derived.c.matters != "")

stale_rows = Table(
    "stale_rows",  # apart, so that marking hundreds of them writes a page or two
    metadata,
    Column("key", Text, primary_key=True),  # of a row of `derived`
)

# --- what is shared with other devices, see `voicelog.store.share` ---------------------------

share_state = Table(
    "share_state",
    metadata,
    Column("key", Text, primary_key=True),
    Column("value", Text, nullable=False),
)

share_segments = Table(
    "share_segments",
    metadata,
    Column("id", HashColumn, primary_key=True),
    Column("device", Text, nullable=False),
    Column("number", Integer, nullable=False),
    Column("header", Text, nullable=False),  # JSON
    Column("item_ids", HashesColumn, nullable=False),  # of its items, in their order
    Column("newer", Integer, nullable=False),  # how many of them this program does not know
    Column("taken_at", Text, nullable=False),
    Index("share_segments_device", "device", "number"),
)

share_items = Table(
    "share_items",
    metadata,
    Column("id", HashColumn, primary_key=True),
    Column("segment", HashColumn, nullable=False),  # the first that held it
    Column("kind", Text, nullable=False),
    Column("ref", Text),  # the row that it is here; null where it is none
    Column("line", ZippedColumn),  # it as it came, where no row holds it
    Index("share_items_ref", "kind", "ref"),
)

hearings = Table(
    "hearings",
    metadata,
    Column("id", HashColumn, primary_key=True),
    Column("recording", Text, nullable=False),
    Column("root", HashColumn),
    Column("depth", Integer, nullable=False),
    Column("row", Text, nullable=False),  # JSON, see `voicelog.store.share.items.HearingItem`
    Column("shown", Boolean, nullable=False),
    Index("hearings_recording", "recording"),
)

hearing_events = Table(
    "hearing_events",
    metadata,
    Column("hearing", HashColumn, primary_key=True),
    Column("event", Text, primary_key=True),  # id of a row of `events`
    Column("item", HashColumn, nullable=False),
    sqlite_with_rowid=False,
)

hidden_events = Table(
    "hidden_events",  # heard of a sound of which another hearing is shown
    metadata,
    Column("id", Text, primary_key=True),  # of a row of `events`
)
