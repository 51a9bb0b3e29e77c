"""Which calls a dog is judged by today: those of the last weeks, never the easy early ones.

What a dog did at one distraction months ago says nothing of today, however often it did it; what it
has not been asked lately is not known. So the ability of today rests on the last sessions alone,
those within `recent_weeks` of the newest one with a call, and says how long ago that was.

Only the dog's last `LAST_SESSIONS` are looked at, so that every paper, also the kennel, which does
not read them all, says the same.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import date, timedelta
from itertools import groupby

from voicelog.analysis.criteria import Criteria
from voicelog.analysis.session_digest import SessionDigest, by_date, skin_was_bad
from voicelog.analysis.session_scope import (
    RepInSession,
    distraction_rank,
    has_call_and_outcome,
    ids,
    reps_that,
)
from voicelog.analysis.statistics.clustered_share import clustered_share
from voicelog.analysis.statistics.proportion import Proportion
from voicelog.analysis.unaided import came_at_once, unaided
from voicelog.model import FrozenModel

__all__ = [
    "LAST_SESSIONS",
    "Ability",
    "CallAbility",
    "ability",
    "ability_of",
    "last_calls",
    "recent_sessions",
    "share_of",
]

LAST_SESSIONS = 24
"""How many of a dog's last sessions a story is told of."""
UNDATED = 5
"""Sessions that are taken as recent where no day is known (common practice, no source)."""


class CallAbility(FrozenModel):
    """What came of the recent calls at one distraction: how many were answered unaided, with an
    interval that minds the sessions, and after how many the dog came at once in any way; `first`
    and `last` are the days they are of. `signs` are the strong signs of stress in the reps of those
    sessions that were not struck, each with how often, `skin` the worst that the skin was where it
    was bad (`skin_on_doubt`: on entries to check alone): no share of calls is told without them."""

    distraction: str | None
    unaided: Proportion
    came: int
    sessions: int
    first: date | None
    last: date | None
    reps: tuple[str, ...]
    signs: tuple[tuple[str, int], ...] = ()
    skin: str | None = None
    skin_on_doubt: bool = False


class Ability(FrozenModel):
    """What a dog does today. `calls` go from the easiest distraction to the hardest, those where it
    was not said last; `first` and `last` are the days they are of, `weeks_ago` how many weeks the
    last is past (None where a day is not known)."""

    calls: tuple[CallAbility, ...]
    first: date | None
    last: date | None
    weeks_ago: int | None

    def at(self, needed: int) -> CallAbility | None:
        """The hardest distraction with at least so many calls, else the one with most."""
        enough = [one for one in self.calls if one.unaided.of >= needed]
        said = [one for one in enough if one.distraction is not None]
        if said or enough:
            return (said or enough)[-1]
        return max(self.calls, key=lambda one: one.unaided.of, default=None)


def last_calls(
    session_digests: Sequence[SessionDigest], drill: str | None = "recall"
) -> tuple[RepInSession, ...]:
    """The calls of a dog's last sessions that have an outcome, surely, oldest first.

    `session_digests`: all its sessions, on any transmitter, since no level is read, in any order.
    """
    last = by_date(session_digests)[-LAST_SESSIONS:]
    return tuple(reps_that(last, lambda rep: has_call_and_outcome(rep, drill)))


def recent_sessions(
    session_digests: Sequence[SessionDigest], criteria: Criteria
) -> tuple[SessionDigest, ...]:
    """Those of sessions (oldest first) within some weeks of the newest; the last few where its day
    is not known."""
    newest = session_digests[-1].day if session_digests else None
    if newest is None:
        return tuple(session_digests[-UNDATED:])
    since = newest - timedelta(weeks=criteria.recent_weeks)
    return tuple(one for one in session_digests if one.day is not None and one.day > since)


def ability(
    session_digests: Sequence[SessionDigest],
    criteria: Criteria,
    today: date | None = None,
    drill: str | None = "recall",
) -> Ability:
    """What a dog does today at the call of a drill. `session_digests` as for `last_calls`."""
    return ability_of(last_calls(session_digests, drill), criteria, today)


def ability_of(
    calls: Sequence[RepInSession], criteria: Criteria, today: date | None = None
) -> Ability:
    """The same of calls that `last_calls` found."""
    worked = {one.session_digest.session: one.session_digest for one in calls}
    recent = recent_sessions(tuple(worked.values()), criteria)
    sessions = {one.session for one in recent}
    kept = [one for one in calls if one.session_digest.session in sessions]
    last = recent[-1].day if recent else None
    said = sorted(
        {one.rep.distraction for one in kept},
        key=lambda at: 9 if (rank := distraction_rank(at)) is None else rank,
    )
    found = [_call_ability(at, [one for one in kept if one.rep.distraction == at]) for at in said]
    return Ability(
        calls=tuple(found),
        first=recent[0].day if recent else None,
        last=last,
        weeks_ago=None if last is None or today is None else max(0, (today - last).days // 7),
    )


def share_of(calls: Sequence[RepInSession]) -> Proportion | None:
    """The share answered unaided, the sessions minded; None for no call."""
    counts = []
    for _, some in groupby(calls, key=lambda one: one.session_digest.session):
        reps = [one.rep for one in some]
        counts.append((sum(map(unaided, reps)), len(reps)))
    share = clustered_share(counts)
    return share if isinstance(share, Proportion) else None


def _call_ability(distraction: str | None, calls: Sequence[RepInSession]) -> CallAbility:
    share = share_of(calls)
    if share is None:
        raise ValueError(f"no call at {distraction}")
    sessions = {one.session_digest.session: one.session_digest for one in calls}.values()
    signs = Counter(
        sign.name
        for one in sessions
        for rep in one.reps
        if rep.state != "void"
        for sign in rep.signs
        if sign.class_ == "strong"
    )
    bad = [one for one in sessions if skin_was_bad(one) is not None]
    return CallAbility(
        distraction=distraction,
        unaided=share,
        came=sum(came_at_once(one.rep) for one in calls),
        sessions=len(sessions),
        first=calls[0].session_digest.day,
        last=calls[-1].session_digest.day,
        reps=ids(calls),
        signs=tuple(signs.most_common()),
        skin="sore" if any(skin_was_bad(one) == "sore" for one in bad) else "red" if bad else None,
        skin_on_doubt=bool(bad) and all(one.skin_on_doubt for one in bad),
    )
