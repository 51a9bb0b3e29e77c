"""A digest beside each derived row, ahead of its body: pages over weeks read only digests.

What is derived is a cache, so its table is made anew, empty, and filled when next asked for.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

__all__ = ["down_revision", "revision", "upgrade"]

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Make the table of what is derived anew."""
    op.drop_table("derived")
    op.create_table(
        "derived",
        sa.Column("key", sa.Text, primary_key=True),
        sa.Column("recording", sa.Text, sa.ForeignKey("recordings.id"), nullable=False),
        sa.Column("stamp", sa.Text, nullable=False),
        sa.Column("dog", sa.Text),
        sa.Column("day", sa.Text),
        sa.Column("worst", sa.Text),
        sa.Column("counts", sa.JSON, nullable=False),
        sa.Column("digest", sa.Text, nullable=False),
        sa.Column("body", sa.Text, nullable=False),
        sa.Index("derived_recording", "recording"),
        sa.Index("derived_dog", "dog", "day"),
    )
