"""Which sessions are meant: by a dog's name, a day, or as the last ones; and their recordings."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from datetime import date

from voicelog.app.session_catalog import SessionCatalog
from voicelog.model import VoicelogError
from voicelog.model.names import name_key
from voicelog.report.words import counted, date_words
from voicelog.store import CacheHeading, SessionFilter
from voicelog.store.recording_part import RecordingPart, recording_part

__all__ = [
    "NoSessionsError",
    "chosen_sessions",
    "dogs_of_last_day",
    "dogs_of_session",
    "logged_dog",
    "no_sessions",
    "parts_of_sessions",
    "sessions_in",
    "sessions_of_dog",
]


class NoSessionsError(VoicelogError):
    """A dog of which the log has no session: `have` are those that have some; `on_roster`: it is
    known all the same, and `open_matters` of it are open."""

    def __init__(
        self, dog: str, have: Iterable[str], *, on_roster: bool = False, open_matters: int = 0
    ) -> None:
        self.dog = dog
        if on_roster:
            still = (
                f"{counted(open_matters, 'matter')} of it {'is' if open_matters == 1 else 'are'} "
                "still open, though: see 'voicelog matters list'"
                if open_matters
                else "add a recording or notes with 'voicelog add'"
            )
            super().__init__(f"{dog} has no session in the log; {still}.")
            return
        known = ", ".join(filter(None, have)) or "none yet"
        super().__init__(
            f"There is no session of '{dog}' in the log; dogs that have one: {known}; "
            "correct the name or add a recording."
        )


def no_sessions(catalog: SessionCatalog, dog: str) -> NoSessionsError:
    """What to say of a dog without a session. `catalog` is that of the log."""
    profile = catalog.log.roster().dog(dog)
    if profile is None:
        return NoSessionsError(dog, catalog.dogs())
    matters = (one for found in catalog.matters(None, dog).values() for one in found)
    count = sum(one.stands for one in matters)
    return NoSessionsError(profile.name, catalog.dogs(), on_roster=True, open_matters=count)


def logged_dog(catalog: SessionCatalog, dog: str) -> str | None:
    """The name under which a dog has sessions, without regard to letter case; None: it has none.
    `catalog` is that of the log."""
    return next((one for one in catalog.dogs() if name_key(one) == name_key(dog)), None)


def sessions_of_dog(
    catalog: SessionCatalog, dog: str, day: date | None = None
) -> list[CacheHeading]:
    """A dog's sessions, oldest first, of one day or all; none where the log has none. `catalog` is
    that of the log."""
    name = logged_dog(catalog, dog)
    if name is None:
        return []
    rows = reversed(catalog.headings(SessionFilter(dog=name)).rows)
    return [row for row in rows if row.dog == name and day in (None, row.day)]


def chosen_sessions(
    catalog: SessionCatalog,
    dog: str | None = None,
    day: date | None = None,
    *,
    every: bool = False,
) -> list[CacheHeading]:
    """The sessions wanted, by dog, each dog's oldest first.

    Args:
        dog: whose; None for those of every dog.
        day: of which day.
        every: all of them. Without day and `every`, it is the dog's last one, or, for every
            dog, those of the last day; with one without a date that was put in since, before it:
            it is taken as older than all that have one, and may be newer.

    Raises:
        NoSessionsError: the dog has none.
        VoicelogError: there is none at all, or none on that day.
    """
    known = catalog.dogs()
    name = None if dog is None else logged_dog(catalog, dog)
    if dog is not None and name is None:
        raise no_sessions(catalog, dog)
    if not known:
        raise VoicelogError(
            "There is no session in the log yet; add a recording with 'voicelog add' first."
        )
    place = {dog: number for number, dog in enumerate(known)}

    def in_order(rows: Iterable[CacheHeading]) -> list[CacheHeading]:
        found = sorted(rows, key=lambda row: (row.moment, row.key))
        return sorted(found, key=lambda row: (place.get(row.dog or "", -1), row.day is not None))

    if every:
        return in_order(_sessions(catalog, SessionFilter(dog=name)))
    if day is not None:
        chosen = in_order(_sessions(catalog, SessionFilter(dog=name, since=day, until=day)))
        if not chosen:
            raise VoicelogError(
                f"There is no session on {date_words(day)}; see 'voicelog summary --all'."
            )
        return chosen
    last = _sessions(catalog, SessionFilter(dog=name, dated=True), limit=1)
    undated = _sessions(catalog, SessionFilter(dog=name, dated=False))
    if not last:
        return in_order(undated) if name is None else in_order(undated)[-1:]
    since = _put_in_since(catalog, undated)
    if name is not None:
        return [*since, *last]
    on = SessionFilter(since=last[0].day, until=last[0].day)
    return in_order([*since, *_sessions(catalog, on)])


def _sessions(
    catalog: SessionCatalog, wanted: SessionFilter, limit: int | None = None
) -> list[CacheHeading]:
    rows = catalog.headings(wanted, limit=limit).rows
    return [row for row in rows if row.dog is not None]


def _put_in_since(catalog: SessionCatalog, undated: Iterable[CacheHeading]) -> list[CacheHeading]:
    """The newest of the `undated` sessions of each dog that was put in after its last one with a
    date was worked."""
    found = []
    for dog, row in {row.dog: row for row in sorted(undated, key=lambda row: row.moment)}.items():
        last = _sessions(catalog, SessionFilter(dog=dog, dated=True), limit=1)
        if last and row.moment > last[0].moment:
            found.append(row)
    return found


def dogs_of_last_day(catalog: SessionCatalog, day: date | None = None) -> list[str] | None:
    """The dogs of the sessions that `chosen_sessions` chooses by what the `catalog` knows before
    anything is derived anew; None where it knows of none."""
    try:
        rows = chosen_sessions(catalog, None, day)
    except VoicelogError:
        return None
    return list(dict.fromkeys(row.dog for row in rows if row.dog)) or None


def dogs_of_session(catalog: SessionCatalog, session: str) -> list[str] | None:
    """The dogs of the recording that holds a session, by its id, by what the `catalog` knows before
    anything is derived anew; None where it knows of no such session."""
    row = catalog.log.derived_row(session)
    rows = () if row is None else catalog.log.derived_get(row.recording)
    return list(dict.fromkeys(one.dog for one in rows if one.dog is not None)) or None


def sessions_in(catalog: SessionCatalog, recording: str) -> list[str]:
    """The ids of a recording's sessions. `catalog` is that of the log."""
    return [row.key for row in catalog.log.derived_get(recording) if row.dog is not None]


def parts_of_sessions(catalog: SessionCatalog, chosen: Collection[str]) -> list[RecordingPart]:
    """The parts that sessions, by their ids, have of the recordings that hold them."""
    pages = {key: catalog.page(key) for key in chosen}
    recordings = dict.fromkeys(page.session.recording for page in pages.values() if page)
    parts = []
    for recording in recordings:
        inside = (catalog.page(key) for key in sessions_in(catalog, recording))
        sessions = [page.session for page in inside if page is not None]
        parts.append(recording_part(recording, catalog.log.events(recording), sessions, chosen))
    return parts
