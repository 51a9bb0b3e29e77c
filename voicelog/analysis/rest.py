"""When to leave it: no session today, or a session without the button, and why."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from voicelog.analysis.bad_days import EASY_CALLS, bad_days, went_against_matter
from voicelog.analysis.criteria import Criteria
from voicelog.analysis.levels import Ceiling
from voicelog.analysis.open_matters import OpenMatter, standing
from voicelog.analysis.reason import Reason
from voicelog.analysis.session_digest import (
    SessionDigest,
    by_date,
    is_later_day,
    skin_cleared,
    skin_left,
    skin_was_bad,
)
from voicelog.analysis.session_matters import BAD_SKIN
from voicelog.analysis.session_scope import SessionScope, ids, reps_that, went_strong
from voicelog.analysis.unaided import stimulated, unaided, was_asked
from voicelog.model import Dog

__all__ = ["button_free", "matter_reason", "months_old", "reasons_to_rest"]

FORGOTTEN = 3
"""With so many sessions on later days after one that went badly, none of which did, it is no
reason any more; common practice, no source."""


def matter_reason(one: OpenMatter) -> Reason:
    """A matter as a reason, with its reps."""
    return Reason(code="open matter", day=one.day, reps=one.matter.rep_ids, matter=one)


def reasons_to_rest(
    session_digests: Sequence[SessionDigest],
    today: date | None,
    criteria: Criteria,
    matters: Sequence[OpenMatter],
) -> tuple[Reason, ...]:
    """Why there is no session today; empty when there may be one. `matters`: the dog's list."""
    found = []
    for one in standing(matters):
        if one.matter.kind == "skin" and "sore" in one.matter.names:
            found.append(Reason(code="sore skin", day=one.day, matter=one))
        elif one.matter.kind == "aggression":
            names = one.matter.names
            found.append(
                Reason(
                    code="aggression",
                    day=one.day,
                    names=names,
                    reps=one.matter.rep_ids,
                    matter=one,
                )
            )
    here = [one for one in session_digests if today and one.began and one.began.date() == today]
    if len(here) >= criteria.day_sessions:
        found.append(Reason(code="enough today", count=len(here)))
    now = [one for one in matters if today and one.day == today and one.state != "corrected"]
    stopped = [one.matter for one in now if one.matter.stop]
    if stopped:
        open_ = [one.matter for one in now if one.is_stop]
        rules = tuple(dict.fromkeys(rule for one in open_ or stopped for rule in one.rules))
        found.append(Reason(code="stop today", names=rules, count=len(open_)))
    strong = [one.matter for one in now if one.matter.kind == "strong sign"]
    if strong and not stopped:
        reps = tuple(rep for one in strong for rep in one.rep_ids)
        found.append(Reason(code="strong sign today", reps=reps))
    return tuple(found)


def button_free(
    session_digests: Sequence[SessionDigest],
    dog: Dog,
    criteria: Criteria,
    limit: Ceiling,
    today: date | None,
    scope: SessionScope,
) -> tuple[bool, tuple[Reason, ...]]:
    """Whether the next session goes without the button, and why."""
    why = []
    if scope.stops:
        why.append(Reason(code="stop stands", count=len(scope.stops)))
    for one in scope.matters:
        if one.stands and one.matter.kind == "skin":
            clear = skin_cleared(session_digests, one.day)
            names = one.matter.names[-1:]
            why.append(Reason(code="skin", day=one.day, cleared=clear, names=names, matter=one))
    red = skin_left(session_digests)
    if red is not None:
        noted = any(
            one.skin not in (None, *BAD_SKIN) and one.day == red.day for one in session_digests
        )
        why.append(
            Reason(
                code="skin to look at",
                day=red.day,
                names=(str(skin_was_bad(red)),),
                cleared=red.day if noted else None,
            )
        )
    youngest = criteria.youngest_months
    months = months_old(dog, today)
    if months is not None and months < youngest:
        why.append(Reason(code="too young", count=months, needed=youngest))
    if limit.none_left:
        reps = limit.strong.reps if limit.strong else ()
        why.append(Reason(code="ceiling", ceiling=limit, reps=reps))
    last = _unlifted(session_digests, criteria, scope.matters)
    asked_first = any(one.matter.kind == "aggression" for one in standing(scope.matters))
    if last is not None and not asked_first:  # until then there is no session, not even an easy one
        why.append(
            Reason(
                code="went against",
                day=last.day,
                names=tuple(sorted(_against(last))),
                needed=EASY_CALLS,
                reps=ids(reps_that([last], went_strong)),
            )
        )
    if "momentary" not in dog.transmitter.modes and "continuous" not in dog.transmitter.modes:
        why.append(Reason(code="no levels"))
    return bool(why), tuple(why)


def _unlifted(
    session_digests: Sequence[SessionDigest], criteria: Criteria, matters: Sequence[OpenMatter]
) -> SessionDigest | None:
    """The last session that went badly, where neither an easy one on a later day nor enough that
    were no bad ones lifted it."""
    last: SessionDigest | None = None
    since = 0
    for one in by_date(session_digests):
        if _badly(one):
            last, since = one, 0
        elif (
            last is None or not is_later_day(one.day, last.day) or went_against_matter(one, matters)
        ):
            continue
        elif _easy(one):
            last = None
        elif any(map(was_asked, one.reps)) and not bad_days([one], criteria):
            since += 1
            last = last if since < FORGOTTEN else None
    return last


def _badly(session_digest: SessionDigest) -> bool:
    """Whether it had a strong sign."""
    return bool(_against(session_digest))


def _easy(session_digest: SessionDigest) -> bool:
    """Whether it was an easy session: a few calls answered unaided, no stimulus, no strong sign."""
    reps = [rep for rep in session_digest.reps if rep.state != "void"]
    alone = sum(rep.state == "sure" and unaided(rep) for rep in reps)
    return alone >= EASY_CALLS and not any(map(stimulated, reps)) and not _against(session_digest)


def _against(session_digest: SessionDigest) -> frozenset[str]:
    """The strong signs of a session, but for those in void reps."""
    reps = reps_that([session_digest], went_strong)
    return frozenset(s.name for one in reps for s in one.rep.signs if s.class_ == "strong")


def months_old(dog: Dog, today: date | None) -> int | None:
    """The dog's age in whole months, where both dates are known."""
    if dog.born is None or today is None:
        return None
    months = (today.year - dog.born.year) * 12 + today.month - dog.born.month
    return months - (today.day < dog.born.day)
