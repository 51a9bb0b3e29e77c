"""Which reps may stand together: the scope of a dog's sessions, and its reps in series.

- Never across transmitters: a level of one means nothing on another, so only sessions with
  the newest session's transmitter are looked at; the others are counted and named.
- Never across drills, modes or distractions: what a dog answers in one says little of the
  other. "Not said" is a group of its own.
- Handlers are pooled, since the level is the dog's; where more than one worked the dog, each
  also stands alone, so that a difference shows.
- Doubtful and void reps are left out and counted.
- Only the last sessions in which a thing was worked are looked back on: a dog learns.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import NamedTuple

from voicelog.analysis.open_stops import open_stops
from voicelog.analysis.session_digest import RepDigest, SessionDigest, by_date
from voicelog.analysis.unaided import asked

__all__ = [
    "DISTRACTION_LADDER",
    "FIND_LEVEL",
    "STIMULATION",
    "RepInSession",
    "SessionScope",
    "called",
    "date_words",
    "day_of",
    "distraction_rank",
    "ids",
    "last_sessions_with",
    "numbered",
    "scope_of",
    "told",
]

STIMULATION = frozenset({"momentary", "continuous"})
"""The modes that carry a level."""

FIND_LEVEL = "find level"
"""The drill that looks for the level noticed; never pooled with any other."""

DISTRACTION_LADDER = ("none", "low", "medium", "high")
"""The distraction ladder."""

_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


class RepInSession(NamedTuple):
    """A rep and the session it was in."""

    session_digest: SessionDigest
    rep: RepDigest


@dataclass(frozen=True, slots=True)
class SessionScope:
    """The sessions of one dog that may stand together, oldest first, and what was left out.

    `stops` are the sessions whose stops still stand, on whatever transmitter, newest first.
    """

    session_digests: tuple[SessionDigest, ...]
    other_reps: int
    other_until: datetime | None
    undated: int
    notes: tuple[str, ...]
    stops: tuple[SessionDigest, ...] = ()


def scope_of(session_digests: Sequence[SessionDigest], today: date | None = None) -> SessionScope:
    """The sessions on the newest session's transmitter, of one dog, given in any order."""
    ordered = by_date(session_digests)
    unit = ordered[-1].transmitter if ordered else None
    same = tuple(one for one in ordered if one.transmitter == unit)
    others = [one for one in ordered if one.transmitter != unit]
    other_reps = sum(len(one.tries) for one in others)
    undated = [one for one in ordered if one.began is None]
    notes = []
    if others:
        notes.append(
            f"{numbered(other_reps, 'rep')} of {numbered(len(others), 'session')} with another "
            f"transmitter or another range in the profile (until {day_of(others[-1])}) are left "
            "out: a level there means something else."
        )
    if undated and len(ordered) > 1:
        notes.append(
            f"{numbered(len(undated), 'session')} without a date taken as older than all others."
        )
    late = [one for one in ordered if today and one.began and one.began.date() > today]
    if late:
        notes.append(
            f"{numbered(len(late), 'session')} dated after today ({day_of(late[-1])}): check the "
            "clock of the recorder; their order may be wrong."
        )
    return SessionScope(
        session_digests=same,
        other_reps=other_reps,
        other_until=others[-1].began if others else None,
        undated=len(undated),
        notes=tuple(notes),
        stops=open_stops(ordered),
    )


def told(session_digests: Iterable[SessionDigest]) -> list[RepInSession]:
    """Every rep, with its session, in order."""
    return [
        RepInSession(session_digest, rep)
        for session_digest in session_digests
        for rep in session_digest.tries
    ]


def last_sessions_with(
    session_digests: Sequence[SessionDigest], wanted: Callable[[RepDigest], bool], most: int
) -> tuple[SessionDigest, ...]:
    """The last so many sessions that have a rep that is wanted, oldest first."""
    found: list[SessionDigest] = []
    for session_digest in reversed(session_digests):
        if len(found) == most:
            break
        if any(map(wanted, session_digest.tries)):
            found.append(session_digest)
    return tuple(reversed(found))


def called(rep: RepDigest, drill: str | None) -> bool:
    """Whether a sure rep of the drill has a call that was heard and an outcome that was said."""
    return rep.heard == "sure" and rep.drill == drill and asked(rep)


def distraction_rank(distraction: str | None) -> int | None:
    """The place of a distraction on its ladder, None where it was not said."""
    return DISTRACTION_LADDER.index(distraction) if distraction in DISTRACTION_LADDER else None


def ids(reps: Iterable[RepInSession]) -> tuple[str, ...]:
    """The ids of reps, in order."""
    return tuple(one.rep.id for one in reps)


def day_of(session_digest: SessionDigest) -> str:
    """The day of a session in words: "3 May 2031"."""
    return "a day not known" if session_digest.began is None else date_words(session_digest.began)


def date_words(day: date) -> str:
    """A day without regard to the machine's language: "3 May 2031"."""
    return f"{day.day} {_MONTHS[day.month - 1]} {day.year}"


def numbered(count: int, noun: str) -> str:
    """A count and its noun: "1 rep", "2 reps"."""
    return f"{count} {noun if count == 1 else noun + 's'}"
