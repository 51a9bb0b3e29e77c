"""Deletion by the owner, and one order of events for everybody who holds them.

`tombstones` remember what was deleted, without saying what it was: the triggers let a row go
only when its tombstone stands, and let nothing in again that has one. Commit times become
UTC of one width, each later than the one before it in its recording, so that they order
events the same in two logs that were merged. They may be lowered, never raised: an event was
committed when the first log that holds it committed it.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from voicelog.store.commit_time import CommitClock

__all__ = ["down_revision", "revision", "upgrade"]

revision = "0003"
down_revision = "0002"

TRIGGERS = (
    """
    CREATE TRIGGER events_no_update BEFORE UPDATE ON events
    WHEN NEW.seq IS NOT OLD.seq OR NEW.id IS NOT OLD.id OR NEW.recording IS NOT OLD.recording
        OR NEW.about IS NOT OLD.about OR NEW.body IS NOT OLD.body
        OR NEW.committed_at > OLD.committed_at
    BEGIN SELECT RAISE(ABORT, 'events only grows: nothing is changed'); END
    """,
    """
    CREATE TRIGGER events_no_delete BEFORE DELETE ON events
    WHEN NOT EXISTS (SELECT 1 FROM tombstones WHERE kind = 'event' AND id = OLD.id)
    BEGIN SELECT RAISE(ABORT, 'events only grows: nothing is deleted'); END
    """,
    """
    CREATE TRIGGER events_stay_deleted BEFORE INSERT ON events
    WHEN EXISTS (SELECT 1 FROM tombstones WHERE kind = 'event' AND id = NEW.id)
    BEGIN SELECT RAISE(ABORT, 'what was deleted stays deleted'); END
    """,
    """
    CREATE TRIGGER profiles_no_update BEFORE UPDATE ON profiles
    BEGIN SELECT RAISE(ABORT, 'profiles only grows: nothing is changed'); END
    """,
    """
    CREATE TRIGGER profiles_no_delete BEFORE DELETE ON profiles
    WHEN NOT EXISTS (SELECT 1 FROM tombstones WHERE kind = 'profile' AND id = OLD.seq)
    BEGIN SELECT RAISE(ABORT, 'profiles only grows: nothing is deleted'); END
    """,
    """
    CREATE TRIGGER recordings_stay_deleted BEFORE INSERT ON recordings
    WHEN EXISTS (SELECT 1 FROM tombstones WHERE kind = 'recording' AND id = NEW.id)
    BEGIN SELECT RAISE(ABORT, 'what was deleted stays deleted'); END
    """,
    """
    CREATE TRIGGER tombstones_no_delete BEFORE DELETE ON tombstones
    BEGIN SELECT RAISE(ABORT, 'tombstones only grows: nothing is deleted'); END
    """,
)


def upgrade() -> None:
    """Make the tombstones, bring the times of commit to one form, exchange the triggers."""
    op.create_table(
        "tombstones",
        sa.Column("seq", sa.Integer, primary_key=True, autoincrement=True),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("id", sa.Text, nullable=False),
        sa.Column("from_s", sa.Float),
        sa.Column("to_s", sa.Float),
        sa.Column("deleted_at", sa.Text, nullable=False),
        sa.Column("swept", sa.Boolean, nullable=False),
        sa.Index("tombstones_id", "id", "kind"),
        sa.Index("tombstones_swept", "swept"),
        sqlite_autoincrement=True,
    )
    for name in ("events_no_update", "events_no_delete", "profiles_no_update"):
        op.execute(f"DROP TRIGGER {name}")
    op.execute("DROP TRIGGER profiles_no_delete")
    _restamp("events", "committed_at", "recording")
    _restamp("profiles", "put_at", "'all'")
    op.create_index("events_order", "events", ["recording", "committed_at"])
    for statement in TRIGGERS:
        op.execute(statement)


def _restamp(table: str, column: str, group: str) -> None:
    connection = op.get_bind()
    rows = connection.execute(
        sa.text(f"SELECT seq, {group}, {column} FROM {table} ORDER BY seq")
    ).all()
    stamps: dict[str, CommitClock] = {}
    for seq, of, then in rows:
        stamp = stamps.setdefault(of, CommitClock(None)).of_text(then)
        connection.execute(
            sa.text(f"UPDATE {table} SET {column} = :stamp WHERE seq = :seq"),
            {"stamp": stamp, "seq": seq},
        )
