"""What people did about open matters, and what each session leaves of them.

`matter_events` only grows, as `events` does. What is derived is a cache, so its table is made anew,
empty, and filled when next asked for.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

__all__ = ["down_revision", "revision", "upgrade"]

revision = "0006"
down_revision = "0005"

TRIGGERS = (
    """
    CREATE TRIGGER matter_events_no_update BEFORE UPDATE ON matter_events
    BEGIN SELECT RAISE(ABORT, 'matter_events only grows: nothing is changed'); END
    """,
    """
    CREATE TRIGGER matter_events_no_delete BEFORE DELETE ON matter_events
    WHEN NOT EXISTS (SELECT 1 FROM tombstones WHERE kind = 'matter' AND id = OLD.id)
    BEGIN SELECT RAISE(ABORT, 'matter_events only grows: nothing is deleted'); END
    """,
    """
    CREATE TRIGGER matter_events_stay_deleted BEFORE INSERT ON matter_events
    WHEN EXISTS (SELECT 1 FROM tombstones WHERE kind = 'matter' AND id = NEW.id)
    BEGIN SELECT RAISE(ABORT, 'what was deleted stays deleted'); END
    """,
)


def upgrade() -> None:
    """Make the table of matter events, and the table of what is derived anew with its matters."""
    op.create_table(
        "matter_events",
        sa.Column("seq", sa.Integer, primary_key=True, autoincrement=True),
        sa.Column("id", sa.Text, nullable=False, unique=True),
        sa.Column("body", sa.Text, nullable=False),
        sqlite_autoincrement=True,
    )
    for statement in TRIGGERS:
        op.execute(statement)
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
        sa.Column("body", sa.Text, nullable=False),
        sa.Index("derived_recording", "recording"),
        sa.Index("derived_dog", "dog", "moment", "key"),
        sa.Index(
            "derived_list",
            *("moment", "key", "recording", "dog", "day", "worst", "counts", "words"),
        ),
    )
    op.create_index("derived_matters", "derived", ["key"], sqlite_where=sa.text("matters != ''"))
