"""The cache can be listed without its bodies, and says what has gone stale behind a change.

Which recordings are complete is known without reading them. What is derived is a cache, so
its table is made anew, empty, and filled when next asked for.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

__all__ = ["down_revision", "revision", "upgrade"]

revision = "0004"
down_revision = "0003"


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
        sa.Column("moment", sa.Text, nullable=False),
        sa.Column("worst", sa.Text),
        sa.Column("counts", sa.JSON, nullable=False),
        sa.Column("words", sa.Text, nullable=False),
        sa.Column("stale", sa.Boolean, nullable=False),
        sa.Column("trace", sa.Text, nullable=False),
        sa.Column("digest", sa.Text, nullable=False),
        sa.Column("body", sa.Text, nullable=False),
        sa.Index("derived_recording", "recording", "stale"),
        sa.Index("derived_dog", "dog", "moment", "key"),
        sa.Index(
            "derived_list",
            *("moment", "key", "recording", "dog", "day", "worst", "counts", "words", "stale"),
        ),
    )
    columns = ["complete", "id", "started_at", "added_at"]
    op.create_index("recordings_complete", "recordings", columns)
