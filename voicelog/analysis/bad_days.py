"""Days that went badly for a dog, and what lifts them: what one showed makes the next plan easier.

A plan is made anew from all sessions, and what is counted anew can lift what a bad day showed: a
session with a yelp also has calls that were answered, and a note of the skin after it is the last
session. So a day that went badly stays a bad day until a later day went well, and while it stands
nothing in the plan is harder than it was before that day. What counts as badly and as well is
common practice, without a source.

- *Badly*: a strong sign, a stop, red or sore skin, or fewer than half of the calls unaided. Of
  these, calls that were answered with the button alone say nothing against a level.
- *Well*: on a later day, a few calls unaided, at least half of all, none of that, and nothing
  that a matter open on that day stood against.

A person who closes a matter says what was done about it; the day was bad all the same.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date

from voicelog.analysis.criteria import Criteria
from voicelog.analysis.level_limits import DRILL
from voicelog.analysis.open_matters import OpenMatter
from voicelog.analysis.session_digest import (
    RepDigest,
    SessionDigest,
    by_date,
    is_later_day,
    skin_was_bad,
)
from voicelog.analysis.session_scope import distraction_rank, has_call_and_outcome, went_strong
from voicelog.analysis.unaided import stimulated, unaided
from voicelog.model import FrozenModel

__all__ = ["EASY_CALLS", "BadDay", "bad_days", "went_against_matter"]

EASY_CALLS = 3
"""A session that lifts a bad one has so many calls answered unaided; common practice, no source."""
_NO_SESSION = "aggression"


class BadDay(FrozenModel):
    """A session that went badly, and no later day went well since.

    `at` is the lowest distraction at which a strong sign showed, or at which the dog came unaided
    in fewer than half of `of` calls; None where it was neither, or was not said. `strong` says
    which of the two, `reps` which reps; `rules` are those of its stops.
    """

    session: str
    day: date | None
    strong: tuple[str, ...] = ()
    few: bool = False
    skin: str | None = None
    rules: tuple[str, ...] = ()
    at: int | None = None
    of: int = 0
    reps: tuple[str, ...] = ()
    failed: bool = False
    """Whether the dog came, in any way, in fewer than half of the calls."""

    @property
    def is_grave(self) -> bool:
        """Whether it was more than calls that needed the button."""
        return bool(self.strong or self.skin or self.rules or self.failed)


def bad_days(
    session_digests: Iterable[SessionDigest], criteria: Criteria, matters: Sequence[OpenMatter] = ()
) -> tuple[BadDay, ...]:
    """The bad days that no later day lifted, oldest first. `matters`: the dog's list."""
    standing: list[BadDay] = []
    for one in by_date(session_digests):
        bad = _bad_day(one, criteria)
        if bad is not None:
            standing.append(bad)
        elif _went_well(one) and not went_against_matter(one, matters):
            standing = [other for other in standing if not is_later_day(one.day, other.day)]
    return tuple(standing)


def went_against_matter(session_digest: SessionDigest, matters: Sequence[OpenMatter]) -> bool:
    """Whether a matter of an earlier session, or of one earlier on that day, was not closed yet
    when it began and stood against it: sore skin and aggression against any session, a stop
    against one with a stimulus."""
    used = any(stimulated(rep) for rep in session_digest.reps if rep.state != "void")
    return any(
        one.matter.session != session_digest.session
        and one.state != "corrected"
        and _was_before(one, session_digest)
        and _was_open(one, session_digest)
        and (
            one.matter.kind == _NO_SESSION
            or "sore" in one.matter.names
            or (used and one.matter.stop)
        )
        for one in matters
    )


def _was_before(one: OpenMatter, session_digest: SessionDigest) -> bool:
    began = one.matter.began
    return began is None or (session_digest.began is not None and began < session_digest.began)


def _was_open(one: OpenMatter, session_digest: SessionDigest) -> bool:
    if one.closing is None or one.closing.at is None or session_digest.began is None:
        return one.closing is None
    return one.closing.at.replace(tzinfo=None) > session_digest.began


def _bad_day(session_digest: SessionDigest, criteria: Criteria) -> BadDay | None:
    reps = session_digest.reps
    strong = [rep for rep in reps if went_strong(rep)]
    few = _few(session_digest, criteria)
    skin = skin_was_bad(session_digest)
    rules = session_digest.stops
    called = _called(session_digest)
    failed = len(called) >= EASY_CALLS and 2 * sum(rep.came for rep in called) < len(called)
    if not (strong or few or skin or rules or failed):
        return None
    hard = strong or few or (called if failed else [])
    places = [place for rep in hard if (place := distraction_rank(rep.distraction)) is not None]
    return BadDay(
        session=session_digest.session,
        day=session_digest.day,
        strong=tuple(
            sorted({sign.name for rep in strong for sign in rep.signs if sign.class_ == "strong"})
        ),
        few=bool(few),
        skin=skin,
        rules=rules,
        at=min(places, default=None),
        of=len(few),
        reps=tuple(rep.id for rep in hard),
        failed=failed,
    )


def _few(session_digest: SessionDigest, criteria: Criteria) -> list[RepDigest]:
    """The calls at the lowest distraction at which enough were given, and fewer than half of them
    were answered unaided."""
    called = _called(session_digest)
    for at in sorted({distraction_rank(rep.distraction) for rep in called} - {None}, key=_number):
        reps = [rep for rep in called if distraction_rank(rep.distraction) == at]
        if len(reps) >= criteria.step_reps and 2 * sum(map(unaided, reps)) < len(reps):
            return reps
    return []


def _called(session_digest: SessionDigest) -> list[RepDigest]:
    return [rep for rep in session_digest.reps if has_call_and_outcome(rep, DRILL)]


def _number(place: int | None) -> int:
    return -1 if place is None else place


def _went_well(session_digest: SessionDigest) -> bool:
    """Of a session that did not go badly: whether enough calls were answered unaided."""
    called = _called(session_digest)
    alone = sum(map(unaided, called))
    return alone >= EASY_CALLS and 2 * alone >= len(called)
