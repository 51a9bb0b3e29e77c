"""Less room for the same: hashes of what is shared as bytes, long text zipped, one index for two.

No row of the log itself changes, and so no link of the chain. What is derived is a cache: its table
is made anew, empty, and filled when next asked for.
"""

from __future__ import annotations

import json
import zlib
from typing import Any

import sqlalchemy as sa
from alembic import op

__all__ = ["down_revision", "revision", "upgrade"]

revision = "0009"
down_revision = "0008"


def upgrade() -> None:
    """Make the tables of what is shared anew with what they hold, that of what is derived empty."""
    op.drop_index("events_recording", "events")
    op.drop_index("events_order", "events")
    op.create_index("events_recording", "events", ["recording", "seq", "committed_at"])
    _derived()
    raw: Any = op.get_bind().connection.dbapi_connection
    for name, make in (("as_bytes", _as_bytes), ("all_bytes", _all_bytes), ("zipped", _zipped)):
        raw.create_function(f"voicelog_{name}", 1, make)
    _segments()
    _items()
    _hearings()


def _segments() -> None:
    op.drop_index("share_segments_device", "share_segments")
    op.rename_table("share_segments", "share_segments_old")
    op.create_table(
        "share_segments",
        sa.Column("id", sa.LargeBinary, primary_key=True),
        sa.Column("device", sa.Text, nullable=False),
        sa.Column("number", sa.Integer, nullable=False),
        sa.Column("header", sa.Text, nullable=False),
        sa.Column("item_ids", sa.LargeBinary, nullable=False),
        sa.Column("newer", sa.Integer, nullable=False),
        sa.Column("taken_at", sa.Text, nullable=False),
        sa.Index("share_segments_device", "device", "number"),
    )
    op.execute(
        "INSERT INTO share_segments SELECT voicelog_as_bytes(id), device, number, header, "
        "voicelog_all_bytes(item_ids), newer, taken_at FROM share_segments_old ORDER BY rowid"
    )
    op.drop_table("share_segments_old")


def _items() -> None:
    op.drop_index("share_items_ref", "share_items")
    op.rename_table("share_items", "share_items_old")
    op.create_table(
        "share_items",
        sa.Column("id", sa.LargeBinary, primary_key=True),
        sa.Column("segment", sa.LargeBinary, nullable=False),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("ref", sa.Text),
        sa.Column("line", sa.LargeBinary),
        sa.Index("share_items_ref", "kind", "ref"),
    )
    op.execute(
        "INSERT INTO share_items SELECT voicelog_as_bytes(id), voicelog_as_bytes(segment), kind, "
        "ref, voicelog_zipped(line) FROM share_items_old ORDER BY rowid"
    )
    op.drop_table("share_items_old")


def _hearings() -> None:
    op.drop_index("hearings_recording", "hearings")
    op.rename_table("hearings", "hearings_old")
    op.create_table(
        "hearings",
        sa.Column("id", sa.LargeBinary, primary_key=True),
        sa.Column("recording", sa.Text, nullable=False),
        sa.Column("root", sa.LargeBinary),
        sa.Column("depth", sa.Integer, nullable=False),
        sa.Column("row", sa.Text, nullable=False),
        sa.Column("shown", sa.Boolean, nullable=False),
        sa.Index("hearings_recording", "recording"),
    )
    op.execute(
        "INSERT INTO hearings SELECT voicelog_as_bytes(id), recording, voicelog_as_bytes(root), "
        "depth, row, shown FROM hearings_old ORDER BY rowid"
    )
    op.drop_table("hearings_old")
    op.rename_table("hearing_events", "hearing_events_old")
    op.create_table(
        "hearing_events",
        sa.Column("hearing", sa.LargeBinary, primary_key=True),
        sa.Column("event", sa.Text, primary_key=True),
        sa.Column("item", sa.LargeBinary, nullable=False),
        sqlite_with_rowid=False,
    )
    op.execute(
        "INSERT INTO hearing_events SELECT voicelog_as_bytes(hearing), event, "
        "voicelog_as_bytes(item) FROM hearing_events_old"
    )
    op.drop_table("hearing_events_old")


def _derived() -> None:
    op.execute("DELETE FROM stale_rows")
    op.drop_table("derived")
    op.create_table(
        "derived",
        sa.Column("key", sa.Text, primary_key=True),
        sa.Column("recording", sa.Text, sa.ForeignKey("recordings.id"), nullable=False),
        sa.Column("stamp", sa.Text, nullable=False),
        sa.Column("dog", sa.Text),
        sa.Column("day", sa.Text),
        sa.Column("moment", sa.Text, nullable=False),
        sa.Column("worst", sa.Text),
        sa.Column("counts", sa.JSON, nullable=False),
        sa.Column("words", sa.Text, nullable=False),
        sa.Column("trace", sa.Text, nullable=False),
        sa.Column("digest", sa.Text, nullable=False),
        sa.Column("matters", sa.Text, nullable=False),
        sa.Column("body", sa.LargeBinary, nullable=False),
        sa.Index("derived_recording", "recording"),
        sa.Index("derived_dog", "dog", "moment", "key"),
        sa.Index(
            "derived_list",
            *("moment", "key", "recording", "dog", "day", "worst", "counts", "words"),
        ),
    )
    op.create_index("derived_matters", "derived", ["key"], sqlite_where=sa.text("matters != ''"))


def _as_bytes(text: str | None) -> bytes | None:
    return None if text is None else bytes.fromhex(text)


def _all_bytes(text: str) -> bytes:
    return b"".join(map(bytes.fromhex, json.loads(text)))


def _zipped(text: str | None) -> bytes | None:
    return None if text is None else zlib.compress(text.encode(), 6)
