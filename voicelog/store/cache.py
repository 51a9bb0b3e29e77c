"""What is derived, as rows that can be listed and searched without reading their bodies.

A row of a session leaves a trace for the later sessions of the same dog. When a trace or its
place in time changes, those later rows are marked stale in the same transaction, so they are
derived again before anyone relies on them, whatever becomes of the program meanwhile.

Every function works within the caller's transaction.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import date, datetime

from sqlalchemy import (
    ColumnElement,
    Connection,
    and_,
    delete,
    func,
    insert,
    literal,
    or_,
    select,
    tuple_,
)

from voicelog.model import FrozenModel, Severity
from voicelog.store.records import CacheHeading, CacheRow
from voicelog.store.schema import derived, events, recordings, stale_rows
from voicelog.store.set_aside import SetAsideError

__all__ = [
    "CacheListing",
    "SessionFilter",
    "aside",
    "asides",
    "before",
    "counts",
    "digests",
    "digests_of",
    "dogs",
    "drop_dogs",
    "headings",
    "matters",
    "put",
    "session_dogs",
    "stale",
    "traces",
]

_STALE = derived.c.key.in_(select(stale_rows.c.key)).label("stale")
_LISTED = (*(derived.c[name] for name in CacheHeading.model_fields if name != "stale"), _STALE)
WHOLE = (*derived.c, _STALE)
"""The columns of a `CacheRow`."""
_AT_ONCE = 500
"""Keys in one query."""

_DOG_ORDER = (derived.c.moment, derived.c.key)


class SessionFilter(FrozenModel):
    """What a list is narrowed to; the default is everything."""

    dog: str | None = None
    since: date | None = None
    until: date | None = None
    worst: Severity | None = None
    check: bool = False
    """Only where there are entries to check, or typed lines that were not understood."""
    strange: bool = False
    """Only where a name was heard that is not known."""
    dated: bool | None = None
    """Only where there is a date, or only where there is none; neither is a recording without
    sessions."""
    text: str = ""
    """Every word of it is in the dog's name or in the row's words."""


class CacheListing(FrozenModel):
    """A stretch of a list, and how long the whole is."""

    rows: tuple[CacheHeading, ...]
    total: int


def put(connection: Connection, recording: str, rows: Sequence[CacheRow]) -> None:
    """Put rows in place of all of a recording, and mark as stale what rested on others.
    `connection` is in a transaction."""
    of_it = derived.c.recording == recording
    columns = select(derived.c.dog, derived.c.moment, derived.c.trace).where(of_it)
    was = {(row.dog, row.moment, row.trace) for row in connection.execute(columns)}
    now = {(row.dog, _text(row.moment), row.trace) for row in rows}
    fresh(connection, recording)
    connection.execute(delete(derived).where(of_it))
    if rows:
        connection.execute(insert(derived), [_values(row) for row in rows])
    changed: dict[str, str] = {}
    for dog, moment, trace in was ^ now:
        if dog is not None and trace:
            changed[dog] = min(moment, changed.get(dog, moment))
    for dog, moment in changed.items():
        later = and_(derived.c.dog == dog, derived.c.moment >= moment, ~of_it)
        marking = insert(stale_rows).prefix_with("OR IGNORE")
        connection.execute(marking.from_select(["key"], select(derived.c.key).where(later)))


def drop_dogs(connection: Connection, names: Collection[str]) -> None:
    """Drop the rows of recordings with sessions of these dogs. `connection` is in a transaction."""
    of_them = select(derived.c.recording).where(derived.c.dog.in_(names))
    for recording in set(connection.scalars(of_them)) if names else ():
        put(connection, recording, [])


def fresh(connection: Connection, recording: str) -> None:
    """Take the marks off a recording's rows. `connection` is in a transaction."""
    keys = select(derived.c.key).where(derived.c.recording == recording)
    connection.execute(delete(stale_rows).where(stale_rows.c.key.in_(keys)))


def stale(
    connection: Connection, stamp: str, dogs: Collection[str] | None = None
) -> tuple[str, ...]:
    """Complete recordings whose rows are not good, see `Log.stale`."""
    newest = (
        select(func.max(events.c.seq)).where(events.c.recording == recordings.c.id)
    ).scalar_subquery()
    wanted = literal(f"{stamp}/").concat(func.coalesce(newest, 0))
    behind = select(derived.c.recording).join(stale_rows, stale_rows.c.key == derived.c.key)
    query = (
        select(recordings.c.id)
        .outerjoin(derived, derived.c.key == recordings.c.id)
        .where(
            recordings.c.complete,
            or_(derived.c.stamp.is_(None), derived.c.stamp != wanted, recordings.c.id.in_(behind)),
        )
        .order_by(
            func.substr(func.coalesce(recordings.c.started_at, recordings.c.added_at), 1, 19),
            recordings.c.id,
        )
    )
    if dogs is not None:
        worked = select(derived.c.recording)
        can_wait = and_(
            derived.c.stamp.like(literal("%/").concat(func.coalesce(newest, 0))),
            recordings.c.id.in_(worked.where(derived.c.dog.is_not(None))),
            recordings.c.id.not_in(worked.where(derived.c.dog.in_(dogs))),
            derived.c.matters == "",
            recordings.c.id.not_in(behind),
        )
        query = query.where(~func.coalesce(can_wait, False))
    return tuple(connection.scalars(query))


def dogs_worked(connection: Connection, names: Collection[str]) -> dict[str, set[str | None]]:
    """The dogs that each of these recordings is known to be of, see `Log.dogs_worked`."""
    wanted, found = set(names), dict[str, set[str | None]]()
    for name, dog in connection.execute(
        select(derived.c.recording, derived.c.dog).where(derived.c.dog.is_not(None))
    ):
        if name in wanted:
            found.setdefault(name, set()).add(dog)
    for name, dog in connection.execute(select(recordings.c.id, recordings.c.dog)):
        if name in wanted:
            found.setdefault(name, {dog})
    return found


def before(connection: Connection, row: CacheHeading) -> CacheRow | None:
    """The row of the same dog just before this one; one without a date is before all that have
    one. `connection` is in a transaction."""
    is_dated = derived.c.day.is_not(None)
    earlier = tuple_(*_DOG_ORDER) < (_text(row.moment), row.key)
    wanted = and_(~is_dated, earlier) if row.day is None else or_(~is_dated, earlier)
    query = (
        select(*WHOLE)
        .where(derived.c.dog == row.dog, wanted)
        .order_by(is_dated.desc(), derived.c.moment.desc(), derived.c.key.desc())
        .limit(1)
    )
    found = connection.execute(query).mappings().first()
    return None if found is None else CacheRow.model_validate(dict(found))


def traces(connection: Connection, dog: str, moment: datetime, but: str) -> tuple[str, ...]:
    """Traces of a dog's rows before a moment, oldest first, without those of one recording."""
    query = (
        select(derived.c.trace)
        .where(
            derived.c.dog == dog,
            derived.c.moment < _text(moment),
            derived.c.recording != but,
        )
        .order_by(*_DOG_ORDER)
    )
    return tuple(connection.scalars(query))


def counts(
    connection: Connection, dog: str | None = None
) -> list[tuple[str, str, bool, Mapping[str, int]]]:
    """Key, dog, whether it has a date, and counts of every row of a dog, or of that `dog` alone, by
    dog, oldest first. `connection` is in a transaction."""
    query = select(derived.c.key, derived.c.dog, derived.c.day.is_not(None), derived.c.counts)
    wanted = derived.c.dog.is_not(None) if dog is None else derived.c.dog == dog
    query = query.where(wanted).order_by(derived.c.dog, *_DOG_ORDER)
    return [(key, dog, dated, found) for key, dog, dated, found in connection.execute(query)]


def digests(connection: Connection, dog: str) -> tuple[str, ...]:
    """Digests of a dog, oldest first. `connection` is in a transaction."""
    query = select(derived.c.digest).where(derived.c.dog == dog, derived.c.digest != "")
    return tuple(connection.scalars(query.order_by(*_DOG_ORDER)))


def digests_of(connection: Connection, keys: Sequence[str]) -> tuple[str, ...]:
    """Digests of these rows, oldest first."""
    found: list[tuple[datetime, str]] = []
    for start in range(0, len(keys), _AT_ONCE):
        some = keys[start : start + _AT_ONCE]
        query = select(derived.c.moment, derived.c.digest).where(derived.c.key.in_(some))
        found += [(moment, digest) for moment, digest in connection.execute(query)]
    return tuple(digest for _, digest in sorted(found))


def aside(recording: str, stamp: str, error: SetAsideError) -> CacheRow:
    """The row of a recording that does not derive: in no list, with its name and reason."""
    return CacheRow(
        key=recording,
        recording=recording,
        stamp=stamp,
        counts={"aside": 1},
        digest=error.why,
        body=error.name,
    )


def asides(connection: Connection) -> dict[str, SetAsideError]:
    """The recordings whose row is such a one, by id. `connection` is in a transaction."""
    query = select(derived.c.recording, derived.c.digest, derived.c.body).where(
        derived.c.dog.is_(None), func.json_extract(derived.c.counts, "$.aside") == 1
    )
    rows = sorted(connection.execute(query), key=lambda row: (row.body, row.recording))
    return {row.recording: SetAsideError(row.body, row.digest) for row in rows}


def dogs(connection: Connection) -> tuple[str, ...]:
    """The dogs that rows are of, by first appearance. `connection` is in a transaction."""
    query = (
        select(derived.c.dog)
        .where(derived.c.dog.is_not(None))
        .group_by(derived.c.dog)
        .order_by(func.min(derived.c.moment), derived.c.dog)
    )
    return tuple(name for name in connection.scalars(query) if name is not None)


def session_dogs(connection: Connection) -> list[tuple[str, str]]:
    """Key and dog of every row of a dog, by dog, oldest first."""
    query = select(derived.c.key, derived.c.dog).where(derived.c.dog.is_not(None))
    rows = connection.execute(query.order_by(derived.c.dog, *_DOG_ORDER))
    return [(key, dog) for key, dog in rows]


def matters(connection: Connection, dog: str | None, *, stop: bool = False) -> list[str]:
    """The matters of a dog's rows that have any, as JSON; None: of the rows that are of no dog.
    `stop`: only of those with one that says stop."""
    query = select(derived.c.matters).where(derived.c.dog == dog, derived.c.matters != "")
    if stop:
        query = query.where(derived.c.matters.contains('"stop":true'))
    return list(connection.scalars(query))


def headings(
    connection: Connection, wanted: SessionFilter, limit: int | None, skip: int
) -> CacheListing:
    """Sessions, and recordings without any, newest first; see `Log.headings`."""
    chosen = and_(*_conditions(wanted))
    query = (
        select(*_LISTED)
        .where(chosen)
        .order_by(derived.c.moment.desc(), derived.c.key.desc())
        .limit(limit)
        .offset(skip)
    )
    rows = connection.execute(query).mappings()
    return CacheListing(
        rows=tuple(CacheHeading.model_validate(dict(row)) for row in rows),
        total=connection.scalar(select(func.count()).select_from(derived).where(chosen)) or 0,
    )


def _conditions(wanted: SessionFilter) -> list[ColumnElement[bool]]:
    of_a_session = derived.c.dog.is_not(None)
    found: list[ColumnElement[bool]] = [
        or_(of_a_session, func.json_extract(derived.c.counts, "$.sessions") == 0)
    ]
    if wanted.dog is not None:
        found.append(derived.c.dog == wanted.dog)
    if wanted.since is not None:
        found.append(derived.c.day >= wanted.since.isoformat())
    if wanted.until is not None:
        found.append(derived.c.day <= wanted.until.isoformat())
    if wanted.worst is not None:
        found.append(derived.c.worst == wanted.worst)
    if wanted.check:
        counts = derived.c.counts
        unread = func.coalesce(func.json_extract(counts, "$.unread"), 0)
        found.append(func.json_extract(counts, "$.look") + unread > 0)
    if wanted.strange:
        found.append(func.json_extract(derived.c.counts, "$.strange") > 0)
    if wanted.dated is not None:
        found += [of_a_session, derived.c.day.is_not(None) == wanted.dated]
    for word in wanted.text.casefold().split():
        found.append(derived.c.words.contains(word, autoescape=True))
    return found


def _values(row: CacheRow) -> dict[str, object]:
    return row.model_dump(mode="json", exclude={"stale"}) | {"moment": _text(row.moment)}


def _text(moment: datetime) -> str:
    """A moment as text that sorts as moments do."""
    return moment.replace(tzinfo=None).isoformat(timespec="microseconds")
