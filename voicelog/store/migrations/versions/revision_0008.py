"""What is shared with other devices: segments, their items, hearings of one sound.

All of these tables are empty in a log that is not shared. Nothing of an older log changes.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

__all__ = ["down_revision", "revision", "upgrade"]

revision = "0008"
down_revision = "0007"


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "share_state",
        sa.Column("key", sa.Text, primary_key=True),
        sa.Column("value", sa.Text, nullable=False),
    )
    op.create_table(
        "share_segments",
        sa.Column("id", sa.Text, primary_key=True),
        sa.Column("device", sa.Text, nullable=False),
        sa.Column("number", sa.Integer, nullable=False),
        sa.Column("header", sa.Text, nullable=False),
        sa.Column("item_ids", sa.Text, nullable=False),
        sa.Column("newer", sa.Integer, nullable=False),
        sa.Column("taken_at", sa.Text, nullable=False),
        sa.Index("share_segments_device", "device", "number"),
    )
    op.create_table(
        "share_items",
        sa.Column("id", sa.Text, primary_key=True),
        sa.Column("segment", sa.Text, nullable=False),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("ref", sa.Text),
        sa.Column("line", sa.Text),
        sa.Index("share_items_ref", "kind", "ref"),
    )
    op.create_table(
        "hearings",
        sa.Column("id", sa.Text, primary_key=True),
        sa.Column("recording", sa.Text, nullable=False),
        sa.Column("root", sa.Text),
        sa.Column("depth", sa.Integer, nullable=False),
        sa.Column("row", sa.Text, nullable=False),
        sa.Column("shown", sa.Boolean, nullable=False),
        sa.Index("hearings_recording", "recording"),
    )
    op.create_table(
        "hearing_events",
        sa.Column("hearing", sa.Text, primary_key=True),
        sa.Column("event", sa.Text, primary_key=True),
        sa.Column("item", sa.Text, nullable=False),
    )
    op.create_table("hidden_events", sa.Column("id", sa.Text, primary_key=True))
