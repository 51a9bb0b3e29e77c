"""How fast the dog turns and comes: survival curves, in which an ignored call is no slow one.

A rep in which the dog did not turn or come counts as "not yet" up to the word that said so
(censored). A rep whose times were not said apart is not timed; how many is always said. Times
are the narrator's, about 1 s either way.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Literal

from voicelog.analysis.criteria import Criteria
from voicelog.analysis.session_scope import (
    RepInSession,
    SessionScope,
    distraction_rank,
    has_call_and_outcome,
    ids,
    last_sessions_with,
    reps_that,
)
from voicelog.analysis.statistics.survival import (
    LogRankTest,
    Survival,
    TimeEstimate,
    log_rank_test,
    median,
    restricted_mean,
    survival,
)
from voicelog.analysis.statistics.unknown import Unknown
from voicelog.model import FrozenModel

__all__ = [
    "SESSIONS_BEFORE",
    "THESE_SESSIONS",
    "GroupComparison",
    "ResponseTimes",
    "TimeGroup",
    "What",
    "times",
]

THESE_SESSIONS, SESSIONS_BEFORE = "these sessions", "the sessions before"
"""The names of the two groups by time: the sessions looked back on, and as many before them."""

What = Literal["turn", "come"]


class TimeGroup(FrozenModel):
    """The times of the reps of one group; `group` is its name."""

    what: What
    group: str
    of: int
    timed: int
    not_timed: int
    curve: Survival | Unknown
    median: TimeEstimate | Unknown
    mean: TimeEstimate | Unknown
    reps: tuple[str, ...]
    """The timed ones."""


class GroupComparison(FrozenModel):
    """The log-rank comparison of the groups named."""

    what: What
    groups: tuple[str, ...]
    result: LogRankTest | Unknown


class ResponseTimes(FrozenModel):
    """Every group of one drill, and the comparisons between them."""

    drill: str | None
    groups: tuple[TimeGroup, ...]
    compared: tuple[GroupComparison, ...]


def times(scope: SessionScope, criteria: Criteria, drill: str | None) -> ResponseTimes:
    """The times of a drill in the last sessions: of all reps, by button, by distraction, and
    of the sessions before."""
    both = last_sessions_with(
        scope.session_digests, lambda rep: has_call_and_outcome(rep, drill), 2 * criteria.look_back
    )
    now, before = both[-criteria.look_back :], both[: -criteria.look_back]
    reps, earlier = (
        reps_that(some, lambda rep: has_call_and_outcome(rep, drill)) for some in (now, before)
    )
    partings: list[dict[str, list[RepInSession]]] = [
        {THESE_SESSIONS: reps, SESSIONS_BEFORE: earlier},
        _parted(reps, lambda one: _BUTTON.get(one.rep.mode, "button not said")),
        _parted(reps, lambda one: f"distraction {one.rep.distraction or 'not said'}", group_rank),
    ]
    groups: list[TimeGroup] = []
    compared: list[GroupComparison] = []
    for what in ("turn", "come"):
        for number, parting in enumerate(partings):
            some = {name: group for name, group in parting.items() if group}
            if number == 0 or len(some) > 1:
                until = _common(what, list(some.values()))
                groups += [_group(what, name, group, until) for name, group in some.items()]
            if len(some) > 1:
                timed = [_timed(what, group) for group in some.values()]
                result = log_rank_test([(d, o) for d, o in timed if d])
                kept = tuple(n for n, (d, _) in zip(some, timed, strict=True) if d)
                if len(kept) > 1:
                    compared.append(GroupComparison(what=what, groups=kept, result=result))
    return ResponseTimes(drill=drill, groups=tuple(groups), compared=tuple(compared))


_BUTTON = {
    "none": "no button",
    "vibrate": "vibrate",
    "tone": "tone",
    "momentary": "with the button",
    "continuous": "with the button",
}


def group_rank(name: str) -> int:
    """The order of a group named after its distraction."""
    place = distraction_rank(name.removeprefix("distraction "))
    return 9 if place is None else place


def _parted(
    reps: Sequence[RepInSession],
    name: Callable[[RepInSession], str],
    order: Callable[[str], int] | None = None,
) -> dict[str, list[RepInSession]]:
    found: dict[str, list[RepInSession]] = {}
    for one in reps:
        found.setdefault(name(one), []).append(one)
    return {key: found[key] for key in sorted(found, key=order or (lambda key: 0))}


def _time(what: What, one: RepInSession) -> tuple[float, bool] | None:
    """Seconds and whether it happened; None where it was not timed."""
    rep = one.rep
    if what == "turn" and rep.turned_s is not None:
        return rep.turned_s, True
    if what == "come" and rep.latency_s is not None:
        return rep.latency_s, True
    if rep.failed_s is not None:
        return rep.failed_s, False
    return None


def _timed(what: What, reps: Sequence[RepInSession]) -> tuple[list[float], list[bool]]:
    found = [time for one in reps if (time := _time(what, one)) is not None]
    return [seconds for seconds, _ in found], [happened for _, happened in found]


def _common(what: What, groups: Sequence[Sequence[RepInSession]]) -> float | None:
    """The time up to which every group can be averaged, so that the means compare."""
    longest = [max(timed[0]) for reps in groups if (timed := _timed(what, reps))[0]]
    return min(longest, default=None)


def _group(what: What, name: str, reps: Sequence[RepInSession], until: float | None) -> TimeGroup:
    durations, happened = _timed(what, reps)
    curve = survival(durations, happened)
    return TimeGroup(
        what=what,
        group=name,
        of=len(reps),
        timed=len(durations),
        not_timed=len(reps) - len(durations),
        curve=curve,
        median=median(curve) if isinstance(curve, Survival) else curve,
        mean=restricted_mean(curve, until) if isinstance(curve, Survival) else curve,
        reps=ids(one for one in reps if _time(what, one) is not None),
    )
