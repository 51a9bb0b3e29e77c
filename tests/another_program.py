"""A log as another version of the program leaves it: all that is derived waits to be derived again,
and nothing of it can be read."""

from __future__ import annotations

import sqlite3
import zlib
from contextlib import closing
from pathlib import Path


def left_by_another(log: Path) -> None:
    """Make all that is derived what another program left, which this one cannot read."""
    unread = "left by another program"
    with closing(sqlite3.connect(log)) as database, database:
        database.execute(
            "UPDATE derived SET stamp = 'older' || substr(stamp, 6), body = ?, digest = ?, "
            "trace = ?, matters = CASE matters WHEN '' THEN '' ELSE ? END",
            (zlib.compress(unread.encode()), unread, unread, unread),
        )


def dogs_that_wait(log: Path) -> list[str]:
    """The dogs of which something is as another program left it."""
    older = "SELECT DISTINCT dog FROM derived WHERE stamp LIKE 'older%' AND dog IS NOT NULL"
    with closing(sqlite3.connect(log)) as database:
        return sorted(dog for (dog,) in database.execute(older))
