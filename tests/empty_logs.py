"""Empty databases for the tests: every one after the first is made from what the first one came to.

The migrations take four times as long, and the tests begin many hundred logs.
`tests/store/test_migrations.py` makes one by the migrations and one so, and holds them equal.
"""

from __future__ import annotations

import secrets
from collections.abc import Callable
from functools import wraps
from pathlib import Path

from sqlalchemy import Connection, insert, text

from voicelog.store import database, schema

__all__ = ["remembering"]

Upgrade = Callable[..., None]


def remembering(upgrade: Upgrade) -> Upgrade:
    """`upgrade` of `voicelog.store.database`, asked once for each folder of migrations to make an
    empty database the newest one; the others are made alike."""
    known: dict[Path, list[str]] = {}

    @wraps(upgrade)
    def upgraded(connection: Connection, revision: str = "head") -> None:
        if revision != "head" or _statements(connection):
            upgrade(connection, revision)
        elif (made := known.get(database.MIGRATIONS)) is not None:
            for statement in made:
                connection.exec_driver_sql(statement)
            connection.execute(insert(schema.device).values(id=secrets.token_hex(16)))
        else:
            upgrade(connection, revision)
            (at,) = connection.execute(text("SELECT version_num FROM alembic_version")).one()
            known[database.MIGRATIONS] = [
                *_statements(connection),
                f"INSERT INTO alembic_version VALUES ('{at}')",
            ]

    return upgraded


def _statements(connection: Connection) -> list[str]:
    """What makes all that stands in a database, the tables before what needs them."""
    found = connection.execute(
        text(
            "SELECT sql FROM sqlite_master WHERE sql IS NOT NULL AND name NOT LIKE 'sqlite_%' "
            "ORDER BY type != 'table', rowid"
        )
    )
    return [sql for (sql,) in found]
