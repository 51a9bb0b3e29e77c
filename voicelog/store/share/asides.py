"""What came through a share and is set aside, since it does not derive: remembered with its reason.

It stays in the log and in the folder; it is only not shown. What was deleted is forgotten here too.
"""

from __future__ import annotations

import json
from collections.abc import Sequence

from sqlalchemy import Connection, delete, insert, select

from voicelog.model import FrozenModel
from voicelog.store.log import Log
from voicelog.store.schema import events, hearings, recordings, share_state
from voicelog.store.share import tables

__all__ = ["ShareAside", "asides", "drop_gone", "note_asides", "recordings_with_asides"]

_KEPT = share_state.c.key.between(tables.ASIDE, f"{tables.ASIDE}~")


class ShareAside(FrozenModel):
    """Something of a recording that is set aside: a whole `hearing` of it, or what a person (`who`,
    as far as it says) did, by the id of its row (`key`); `why` is the reason, as the part of a
    sentence."""

    key: str
    hearing: bool
    file_name: str
    who: str = ""
    why: str


def asides(log: Log) -> tuple[ShareAside, ...]:
    """What is set aside, in the order of the recordings' ids."""
    query = select(share_state.c.value).where(_KEPT).order_by(share_state.c.key)
    with log.reading() as connection:
        texts = connection.scalars(query).all()
    return tuple(one for text in texts for one in _read(text))


def note_asides(connection: Connection, recording: str, found: Sequence[ShareAside]) -> None:
    """Remember what is set aside of a recording, in place of what was. `connection` is in a
    transaction."""
    key = tables.ASIDE + recording
    connection.execute(delete(share_state).where(share_state.c.key == key))
    if found:
        text = json.dumps([one.model_dump() for one in found])
        connection.execute(insert(share_state).values(key=key, value=text))


def recordings_with_asides(connection: Connection) -> set[str]:
    """The recordings of which something is set aside. `connection` is in a transaction."""
    keys = connection.scalars(select(share_state.c.key).where(_KEPT))
    return {key.removeprefix(tables.ASIDE) for key in keys}


def drop_gone(connection: Connection) -> None:
    """Forget what was deleted. `connection` is in a transaction."""
    for row in connection.execute(
        select(share_state.c.key, share_state.c.value).where(_KEPT)
    ).all():
        name = row.key.removeprefix(tables.ASIDE)
        found = _read(row.value)
        here = connection.scalar(select(recordings.c.id).where(recordings.c.id == name))
        left = [one for one in found if here is not None and _is_there(connection, one)]
        if len(left) < len(found):
            note_asides(connection, name, left)


def _is_there(connection: Connection, one: ShareAside) -> bool:
    column = hearings.c.id if one.hearing else events.c.id
    return connection.scalar(select(column).where(column == one.key)) is not None


def _read(text: str) -> list[ShareAside]:
    return [ShareAside.model_validate(one) for one in json.loads(text)]
