"""The first shape: recordings, events, profiles, and the cache of what is derived.

A step that rebuilds `events` or `profiles` drops their triggers with the old table and must
make them again. Deletion by the owner will come as a table of tombstones that the trigger
on DELETE looks into; until then nothing is deleted.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

__all__ = ["down_revision", "revision", "upgrade"]

revision = "0001"
down_revision = None

GROWS_ONLY = (
    """
    CREATE TRIGGER {table}_no_update BEFORE UPDATE ON {table}
    BEGIN SELECT RAISE(ABORT, '{table} only grows: nothing is changed'); END
    """,
    """
    CREATE TRIGGER {table}_no_delete BEFORE DELETE ON {table}
    BEGIN SELECT RAISE(ABORT, '{table} only grows: nothing is deleted'); END
    """,
    # INSERT OR REPLACE deletes without asking the trigger above.
    """
    CREATE TRIGGER {table}_no_replace BEFORE INSERT ON {table}
    WHEN EXISTS (SELECT 1 FROM {table} WHERE {same})
    BEGIN SELECT RAISE(ABORT, '{table} only grows: nothing is replaced'); END
    """,
)


def upgrade() -> None:
    """Make the tables and the triggers that hold the log to growing."""
    op.create_table(
        "recordings",
        sa.Column("seq", sa.Integer, primary_key=True, autoincrement=True),
        sa.Column("id", sa.Text, nullable=False, unique=True),
        sa.Column("sha256", sa.Text),
        sa.Column("file_name", sa.Text, nullable=False),
        sa.Column("sound", sa.Text),
        sa.Column("started_at", sa.Text),
        sa.Column("duration_s", sa.Float, nullable=False),
        sa.Column("level", sa.JSON, nullable=False),
        sa.Column("dog", sa.Text),
        sa.Column("roster", sa.JSON, nullable=False),
        sa.Column("settings", sa.JSON, nullable=False),
        sa.Column("listeners", sa.JSON, nullable=False),
        sa.Column("grammar", sa.Text, nullable=False),
        sa.Column("added_at", sa.Text, nullable=False),
        sa.Column("complete", sa.Boolean, nullable=False),
        sa.Index("recordings_sha256", "sha256"),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "events",
        sa.Column("seq", sa.Integer, primary_key=True, autoincrement=True),
        sa.Column("id", sa.Text, nullable=False, unique=True),
        sa.Column("recording", sa.Text, sa.ForeignKey("recordings.id"), nullable=False),
        sa.Column("about", sa.Text),
        sa.Column("body", sa.Text, nullable=False),
        sa.Column("committed_at", sa.Text, nullable=False),
        sa.Index("events_recording", "recording", "seq"),
        sa.Index("events_about", "about"),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "profiles",
        sa.Column("seq", sa.Integer, primary_key=True, autoincrement=True),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("key", sa.Text, nullable=False),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("body", sa.Text),
        sa.Column("removed", sa.Boolean, nullable=False),
        sa.Column("put_at", sa.Text, nullable=False),
        sa.Index("profiles_key", "kind", "key", "seq"),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "derived",
        sa.Column("key", sa.Text, primary_key=True),
        sa.Column("recording", sa.Text, sa.ForeignKey("recordings.id"), nullable=False),
        sa.Column("stamp", sa.Text, nullable=False),
        sa.Column("dog", sa.Text),
        sa.Column("day", sa.Text),
        sa.Column("worst", sa.Text),
        sa.Column("counts", sa.JSON, nullable=False),
        sa.Column("body", sa.Text, nullable=False),
        sa.Index("derived_recording", "recording"),
        sa.Index("derived_dog", "dog", "day"),
    )
    for statement in GROWS_ONLY:
        op.execute(statement.format(table="events", same="seq = NEW.seq OR id = NEW.id"))
        op.execute(statement.format(table="profiles", same="seq = NEW.seq"))
