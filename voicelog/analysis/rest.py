"""When to leave it: no session today, or a session without the button, and why."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from voicelog.analysis.criteria import Criteria
from voicelog.analysis.levels import Ceiling
from voicelog.analysis.open_stops import STOP_CLOSED_BY
from voicelog.analysis.reason import Reason
from voicelog.analysis.session_digest import SessionDigest, by_date
from voicelog.analysis.session_scope import SessionScope, day_of, ids, numbered, told
from voicelog.model import Dog
from voicelog.model.aggression import AGGRESSION_SIGNS, WHO

__all__ = ["button_free", "months_old", "reasons_to_rest", "stop_reason"]


def stop_reason(session_digest: SessionDigest) -> Reason:
    """The stops of a session in words, with the reps that had a strong sign."""
    return Reason(
        words=f"Stop on {day_of(session_digest)}: "
        f"{', '.join(dict.fromkeys(session_digest.stops))}.",
        reps=ids(one for one in told([session_digest]) if one.rep.strong),
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
        found.append(Reason(words="The skin was last said to be sore: collar off, see a vet."))
    against = _against(ordered[-1]) & AGGRESSION_SIGNS
    if against:
        signs = ", ".join(sorted(against)).capitalize()
        found.append(
            Reason(words=f"{signs} in the last session: no session before {WHO} was asked.")
        )
    here = [one for one in ordered if today and one.began and one.began.date() == today]
    if len(here) >= criteria.day_sessions:
        found.append(Reason(words=f"{numbered(len(here), 'session')} today already: enough."))
    stopped = [one for one in here if one.stops]
    if stopped:
        rules = ", ".join(dict.fromkeys(rule for one in stopped for rule in one.stops))
        found.append(Reason(words=f"A stop was called today ({rules})."))
    strong = [one for one in told(here) if one.rep.strong and one.rep.heard != "void"]
    if strong and not stopped:
        found.append(Reason(words="A strong sign today: let it be for today.", reps=ids(strong)))
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
        stand = "A stop stands" if len(scope.stops) == 1 else f"{len(scope.stops)} stops stand"
        why.append(Reason(words=f"{stand}: no button until it is settled by {STOP_CLOSED_BY}."))
    ordered = by_date(session_digests)
    youngest = criteria.youngest_months
    months = months_old(dog, today)
    if months is not None and months < youngest:
        why.append(Reason(words=f"{months} months old: no button before {youngest}."))
    if limit.none_left:
        reps = limit.strong.reps if limit.strong else ()
        why.append(Reason(words=limit.why, reps=reps))
    if ordered:
        last = ordered[-1]
        skin = next((one.skin for one in reversed(ordered) if one.skin is not None), None)
        if skin in ("red", "sore"):
            why.append(Reason(words=f"The skin was last said to be {skin}: no collar until clear."))
        strong = [one for one in told([last]) if one.rep.strong and one.rep.heard != "void"]
        signs = _against(last)
        if signs and not signs & AGGRESSION_SIGNS:
            why.append(
                Reason(
                    words=f"The last session ({day_of(last)}) went against the dog "
                    f"({', '.join(sorted(signs))}): one easy session without the button first.",
                    reps=ids(strong),
                )
            )
    if "momentary" not in dog.transmitter.modes and "continuous" not in dog.transmitter.modes:
        why.append(Reason(words="This transmitter has no levels."))
    return bool(why), tuple(why)


def _against(session_digest: SessionDigest) -> frozenset[str]:
    """The strong signs of a session, but for those in struck reps."""
    reps = [one.rep for one in told([session_digest]) if one.rep.strong and one.rep.heard != "void"]
    return frozenset(s.name for rep in reps for s in rep.signs if s.class_ == "strong")


def months_old(dog: Dog, today: date | None) -> int | None:
    """The dog's age in whole months, where both dates are known."""
    if dog.born is None or today is None:
        return None
    months = (today.year - dog.born.year) * 12 + today.month - dog.born.month
    return months - (today.day < dog.born.day)
