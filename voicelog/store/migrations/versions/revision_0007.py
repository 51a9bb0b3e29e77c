"""Rosters, profiles and settings kept once, and a chain of hashes over all that is kept.

What a recording holds of them goes into `contents`, and its row has their hashes. Each device has
a name, and each row that is there becomes a link of its chain, in the order of its table.
"""

from __future__ import annotations

import hashlib
import json
import secrets

import sqlalchemy as sa
from alembic import op

__all__ = ["down_revision", "revision", "upgrade"]

revision = "0007"
down_revision = "0006"

_LINKED = (
    *(("recording", "recordings"), ("event", "events"), ("profile", "profiles")),
    *(("matter", "matter_events"), ("tombstone", "tombstones")),
)
TRIGGERS = (
    *(
        f"""
        CREATE TRIGGER {table}_link_{act.lower()} AFTER {act} ON {table}
        BEGIN INSERT INTO unlinked (kind, ref, strange) VALUES ('{kind}', NEW.seq, 0); END
        """
        for kind, table in _LINKED
        for act in ("INSERT", "UPDATE")
        if (kind, act) != ("tombstone", "UPDATE")
    ),
    *(
        f"""
        CREATE TRIGGER {table}_unlink AFTER DELETE ON {table}
        WHEN EXISTS (SELECT 1 FROM tombstones WHERE kind = '{stone}' AND id = {name})
        BEGIN UPDATE chain SET salt = NULL, content = NULL
        WHERE kind = '{kind}' AND ref = OLD.seq; END
        """
        for kind, table, stone, name in (
            ("recording", "recordings", "recording", "OLD.id"),
            ("event", "events", "event", "OLD.id"),
            ("profile", "profiles", "profile", "OLD.seq"),
            ("matter", "matter_events", "matter", "OLD.id"),
        )
    ),
    """
    CREATE TRIGGER chain_no_update BEFORE UPDATE ON chain
    WHEN NEW.salt IS NOT NULL OR NEW.content IS NOT NULL OR NEW.seq IS NOT OLD.seq
        OR NEW.kind IS NOT OLD.kind OR NEW.ref IS NOT OLD.ref OR NEW.link IS NOT OLD.link
    BEGIN SELECT RAISE(ABORT, 'chain only grows: nothing is changed'); END
    """,
    """
    CREATE TRIGGER chain_no_delete BEFORE DELETE ON chain
    BEGIN SELECT RAISE(ABORT, 'chain only grows: nothing is deleted'); END
    """,
    """
    CREATE TRIGGER contents_no_update BEFORE UPDATE ON contents
    BEGIN SELECT RAISE(ABORT, 'contents only grows: nothing is changed'); END
    """,
)


def upgrade() -> None:
    """Make the tables, put rosters and settings into them, and let everything be linked."""
    op.create_table(
        "contents",
        sa.Column("hash", sa.Text, primary_key=True),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("body", sa.Text, nullable=False),
    )
    op.create_table(
        "device",
        sa.Column("id", sa.Text, primary_key=True),
    )
    op.create_table(
        "chain",
        sa.Column("seq", sa.Integer, primary_key=True, autoincrement=True),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("ref", sa.Integer, nullable=False),
        sa.Column("salt", sa.LargeBinary),
        sa.Column("content", sa.LargeBinary),
        sa.Column("link", sa.LargeBinary, nullable=False),
        sqlite_autoincrement=True,
    )
    op.create_index("chain_ref", "chain", ["ref", "kind"])
    op.create_table(
        "unlinked",
        sa.Column("seq", sa.Integer, primary_key=True),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("ref", sa.Integer, nullable=False),
        sa.Column("strange", sa.Boolean, nullable=False),
    )
    run = op.get_bind().exec_driver_sql
    run("INSERT INTO device (id) VALUES (?)", (secrets.token_hex(16),))
    _share()
    for kind, table in _LINKED:
        run(
            "INSERT INTO unlinked (kind, ref, strange) "
            f"SELECT '{kind}', seq, 0 FROM {table} ORDER BY seq"
        )
    for statement in TRIGGERS:
        op.execute(statement)
    _spell_alike()


def _share() -> None:
    """Put each recording's roster, its dogs and its settings into `contents`."""
    run = op.get_bind().exec_driver_sql
    kept: set[str] = set()

    def keep(kind: str, value: object) -> str:
        body = json.dumps(value, separators=(",", ":"))
        name = hashlib.sha256(body.encode()).hexdigest()
        if name not in kept:
            kept.add(name)
            run("INSERT INTO contents (hash, kind, body) VALUES (?, ?, ?)", (name, kind, body))
        return name

    for (seq,) in run("SELECT seq FROM recordings").all():
        roster, settings = run(
            "SELECT roster, settings FROM recordings WHERE seq = ?", (seq,)
        ).one()
        try:
            people, chosen = json.loads(roster), json.loads(settings)
        except ValueError:
            continue  # it cannot be read, and stays as it is
        if isinstance(people, dict) and isinstance(people.get("dogs"), list):
            dogs = [keep("dog", dog) for dog in people["dogs"]]
            people = keep("roster", {**people, "dogs": dogs})
        if isinstance(chosen, dict):
            chosen = keep("settings", chosen)
        run(
            "UPDATE recordings SET roster = ?, settings = ? WHERE seq = ?",
            (json.dumps(people), json.dumps(chosen), seq),
        )


def _spell_alike() -> None:
    """Let what was derived of dogs with more than one spelling be derived again."""
    op.execute(
        "DELETE FROM derived WHERE recording IN (SELECT recording FROM derived WHERE lower(dog) IN "
        "(SELECT lower(dog) FROM derived GROUP BY lower(dog) HAVING count(DISTINCT dog) > 1))"
    )
