"""How often the dog comes unaided at the first call.

Of the reps with a call that was heard and an outcome that was said, those answered unaided
(`unaided.py`); beside it, how often it came after one call in any way. Where the button was not
said in some, also the share of the others alone. Each share has its Wilson interval.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Literal

from voicelog.analysis.criteria import Criteria
from voicelog.analysis.recent_calls import share_of
from voicelog.analysis.session_digest import RepDigest
from voicelog.analysis.session_scope import (
    RepInSession,
    SessionScope,
    distraction_rank,
    has_call_and_outcome,
    ids,
    last_sessions_with,
    reps_that,
)
from voicelog.analysis.statistics.proportion import Proportion
from voicelog.analysis.statistics.unknown import Unknown
from voicelog.analysis.unaided import came_at_once
from voicelog.model import FrozenModel
from voicelog.model.domain import FIND_LEVEL

__all__ = ["Grouping", "ResponseRates", "drills", "first_call", "no_button", "response_rates"]

Grouping = Literal["all", "distraction", "place", "line", "handler"]


class ResponseRates(FrozenModel):
    """The share of one drill, of all its reps or of those with one `value` of `by`.

    `value` is None where it was not said. `came` are the reps in which it came after one call,
    with a stimulus or without; `unsaid` those of which the button was not said, and `no_button`
    the share answered unaided of the others.
    """

    drill: str | None
    by: Grouping
    value: str | None
    first_call: Proportion | Unknown
    came: int
    no_button: Proportion | Unknown
    unsaid: int
    reps: tuple[str, ...]


_VALUE: dict[Grouping, Callable[[RepDigest], str | None]] = {
    "distraction": lambda rep: rep.distraction,
    "place": lambda rep: rep.location,
    "line": lambda rep: rep.line,
    "handler": lambda rep: rep.handler,
}


def drills(scope: SessionScope, criteria: Criteria) -> tuple[str | None, ...]:
    """The drills with a rep that counts in the last sessions, recall first, the most worked
    next. "Find level" is none of them."""
    counts: dict[str | None, int] = {}
    for session_digest in scope.session_digests[-2 * criteria.look_back :]:
        for rep in session_digest.reps:
            if rep.drill != FIND_LEVEL and has_call_and_outcome(rep, rep.drill):
                counts[rep.drill] = counts.get(rep.drill, 0) + 1
    return tuple(sorted(counts, key=lambda drill: (drill != "recall", -counts[drill])))


def response_rates(
    scope: SessionScope, criteria: Criteria, drill: str | None
) -> tuple[ResponseRates, ...]:
    """The shares of a drill: of all its reps, then by what it was done under. A group is left
    out where all reps have the same value, or none was said."""
    session_digests = last_sessions_with(
        scope.session_digests, lambda rep: has_call_and_outcome(rep, drill), criteria.look_back
    )
    reps = reps_that(session_digests, lambda rep: has_call_and_outcome(rep, drill))
    found = [_shares(drill, "all", None, reps)]
    for by, value_of in _VALUE.items():
        groups: dict[str | None, list[RepInSession]] = {}
        for one in reps:
            groups.setdefault(value_of(one.rep), []).append(one)
        if len(groups) > 1:
            found += [_shares(drill, by, value, groups[value]) for value in sorted(groups, key=_at)]
    return tuple(found)


def first_call(reps: Sequence[RepInSession]) -> Proportion | Unknown:
    """The share that came unaided after one call, its interval minding the sessions, as that of
    the story does: one count has one interval in all papers. `reps` are in order of time."""
    share = share_of(reps)
    return Unknown(code="no rep") if share is None else share


def no_button(reps: Sequence[RepInSession]) -> Proportion | Unknown:
    """The share that came unaided, of the reps of which the button was said."""
    return first_call([one for one in reps if one.rep.mode != "unknown"])


def _shares(
    drill: str | None, by: Grouping, value: str | None, reps: Sequence[RepInSession]
) -> ResponseRates:
    return ResponseRates(
        drill=drill,
        by=by,
        value=value,
        first_call=first_call(reps),
        came=sum(came_at_once(one.rep) for one in reps),
        no_button=no_button(reps),
        unsaid=sum(one.rep.mode == "unknown" for one in reps),
        reps=ids(reps),
    )


def _at(value: str | None) -> tuple[bool, int, str]:
    place = distraction_rank(value)
    return value is None, 9 if place is None else place, value or ""
