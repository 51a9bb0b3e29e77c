"""Run migrations on the connection that `voicelog.store.database` hands over.

The caller has begun the transaction and will end it, so all steps stand or fall together.
"""

from __future__ import annotations

from alembic import context

from voicelog.store.schema import metadata

__all__: list[str] = []

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    transactional_ddl=True,
)
with context.begin_transaction():
    context.run_migrations()
