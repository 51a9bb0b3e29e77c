"""When to leave it: no session today, or a session without the button, and why."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from voicelog.analysis.criteria import Criteria
from voicelog.analysis.levels import Ceiling
from voicelog.analysis.reason import Reason
from voicelog.analysis.session_digest import SessionDigest, by_date
from voicelog.analysis.session_scope import SessionScope, all_reps, ids
from voicelog.model import Dog
from voicelog.model.aggression import AGGRESSION_SIGNS

__all__ = ["button_free", "months_old", "reasons_to_rest", "stop_reason"]


def stop_reason(session_digest: SessionDigest) -> Reason:
    """The stops of a session, with the reps that had a strong sign."""
    return Reason(
        code="stop called",
        day=session_digest.day,
        names=tuple(dict.fromkeys(session_digest.stops)),
        reps=ids(one for one in all_reps([session_digest]) if one.rep.strong),
    )


def reasons_to_rest(
    session_digests: Sequence[SessionDigest], today: date | None, criteria: Criteria
) -> tuple[Reason, ...]:
    """Why there is no session today; empty when there may be one."""
    if not session_digests:
        return ()
    ordered = by_date(session_digests)
    found = []
    skin = next((one.skin for one in reversed(ordered) if one.skin is not None), None)
    if skin == "sore":
        found.append(Reason(code="sore skin"))
    against = _against(ordered[-1]) & AGGRESSION_SIGNS
    if against:
        found.append(Reason(code="aggression", names=tuple(sorted(against))))
    here = [one for one in ordered if today and one.began and one.began.date() == today]
    if len(here) >= criteria.day_sessions:
        found.append(Reason(code="enough today", count=len(here)))
    stopped = [one for one in here if one.stops]
    if stopped:
        rules = tuple(dict.fromkeys(rule for one in stopped for rule in one.stops))
        found.append(Reason(code="stop today", names=rules))
    strong = [one for one in all_reps(here) if one.rep.strong and one.rep.state != "void"]
    if strong and not stopped:
        found.append(Reason(code="strong sign today", reps=ids(strong)))
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
    ordered = by_date(session_digests)
    youngest = criteria.youngest_months
    months = months_old(dog, today)
    if months is not None and months < youngest:
        why.append(Reason(code="too young", count=months, needed=youngest))
    if limit.none_left:
        reps = limit.strong.reps if limit.strong else ()
        why.append(Reason(code="ceiling", ceiling=limit, reps=reps))
    if ordered:
        last = ordered[-1]
        skin = next((one.skin for one in reversed(ordered) if one.skin is not None), None)
        if skin in ("red", "sore"):
            why.append(Reason(code="skin", names=(skin,)))
        strong = [one for one in all_reps([last]) if one.rep.strong and one.rep.state != "void"]
        signs = _against(last)
        if signs and not signs & AGGRESSION_SIGNS:
            why.append(
                Reason(
                    code="went against",
                    day=last.day,
                    names=tuple(sorted(signs)),
                    reps=ids(strong),
                )
            )
    if "momentary" not in dog.transmitter.modes and "continuous" not in dog.transmitter.modes:
        why.append(Reason(code="no levels"))
    return bool(why), tuple(why)


def _against(session_digest: SessionDigest) -> frozenset[str]:
    """The strong signs of a session, but for those in void reps."""
    reps = [
        one.rep for one in all_reps([session_digest]) if one.rep.strong and one.rep.state != "void"
    ]
    return frozenset(s.name for rep in reps for s in rep.signs if s.class_ == "strong")


def months_old(dog: Dog, today: date | None) -> int | None:
    """The dog's age in whole months, where both dates are known."""
    if dog.born is None or today is None:
        return None
    months = (today.year - dog.born.year) * 12 + today.month - dog.born.month
    return months - (today.day < dog.born.day)
