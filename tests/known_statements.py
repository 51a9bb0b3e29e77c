"""Statements of SQL that are put together once for all logs of the tests.

An engine keeps what it has put together, and a program has one of them; the tests open some
thousand logs, and putting the same statements together for each took a fifth of the commands' time.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any

from sqlalchemy import Dialect, Engine

__all__ = ["put_together_once"]


def put_together_once(create: Callable[..., Engine]) -> Callable[..., Engine]:
    """`create_engine`, whose engines of one driver share their dialect and what it has made."""
    first: dict[Any, Engine] = {}

    @wraps(create)
    def created(*given: Any, **options: Any) -> Engine:
        engine = create(*given, **options)
        known = first.setdefault((type(engine.dialect), engine.dialect.dbapi), engine)
        dialect: Dialect = known.dialect
        engine.dialect, engine._compiled_cache = dialect, known._compiled_cache
        return engine

    return created
