"""What has gone stale is marked apart from the rows, so that marking many is quick.

What is derived is a cache, so its table is made anew, empty, and filled when next asked for.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

__all__ = ["down_revision", "revision", "upgrade"]

revision = "0005"
down_revision = "0004"


def upgrade() -> None:
    """Make the table of what is derived anew, and one for what is stale."""
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
        sa.Column("body", sa.Text, nullable=False),
        sa.Index("derived_recording", "recording"),
        sa.Index("derived_dog", "dog", "moment", "key"),
        sa.Index(
            "derived_list",
            *("moment", "key", "recording", "dog", "day", "worst", "counts", "words"),
        ),
    )
    op.create_table("stale_rows", sa.Column("key", sa.Text, primary_key=True))
