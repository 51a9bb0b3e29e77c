"""How a dog goes on from session to session: its measures, their trend, and when one changed.

A measure has one value a session, of the reps of one drill at one distraction, so that a
harder task does not pass for a worse dog. The trend is Theil and Sen's over the number of the
session, with Mann and Kendall's p; the change is a CUSUM against the first sessions.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date
from statistics import median
from typing import Literal

from voicelog.analysis.criteria import Criteria
from voicelog.analysis.response_rates import first_call
from voicelog.analysis.session_digest import RepDigest, SessionDigest
from voicelog.analysis.session_scope import (
    RepInSession,
    SessionScope,
    distraction_rank,
    has_call_and_outcome,
    ids,
    last_sessions_with,
    newest_mode,
    pressed_in,
    reps_that,
)
from voicelog.analysis.statistics.cusum import Cusum, self_starting_cusum
from voicelog.analysis.statistics.proportion import Proportion
from voicelog.analysis.statistics.survival import LogRankTest, log_rank_test
from voicelog.analysis.statistics.trend import Trend, trend
from voicelog.analysis.statistics.unknown import Unknown
from voicelog.analysis.unaided import unaided
from voicelog.model import FrozenModel, Mode
from voicelog.model.domain import STIMULATION

__all__ = [
    "Baseline",
    "Measure",
    "MeasurePoint",
    "MeasureSeries",
    "baseline",
    "current_distraction",
    "measure_series",
]

Measure = Literal["first call", "with the button", "seconds to come", "level answered"]

MIN_REPS_FOR_VALUE = 3
"""Reps of a session before it has a value (common practice, no source)."""


class MeasurePoint(FrozenModel):
    """A session's value of a measure, of so many reps."""

    session: str
    day: date | None
    value: float
    of: int
    reps: tuple[str, ...]


class MeasureSeries(FrozenModel):
    """One measure over the sessions, by their number: its trend, and whether it changed."""

    measure: Measure
    drill: str | None
    distraction: str | None
    points: tuple[MeasurePoint, ...]
    trend: Trend | Unknown
    change: Cusum | Unknown


class Baseline(FrozenModel):
    """Now beside the sessions before any stimulation."""

    before: Proportion
    now: Proportion
    days: tuple[date | None, ...]
    come: LogRankTest | Unknown
    reps: tuple[str, ...]


def current_distraction(scope: SessionScope, criteria: Criteria, drill: str | None) -> str | None:
    """The distraction that a dog is at: the highest with enough reps in its last sessions,
    None where none was said."""
    wanted = scope.asked_for(drill)
    counts: dict[str | None, int] = {}
    for place in scope.last_with(wanted, criteria.look_back):
        for kind in scope.kinds[place]:
            if kind in wanted:
                counts[kind.distraction] = counts.get(kind.distraction, 0) + 1
    enough = [said for said, count in counts.items() if count >= criteria.step_reps]
    return max(
        enough, key=lambda said: -1 if (at := distraction_rank(said)) is None else at, default=None
    )


def measure_series(
    scope: SessionScope, drill: str | None, distraction: str | None, most: int = 60
) -> tuple[MeasureSeries, ...]:
    """Every measure over the last `most` sessions at this drill and distraction; levels are those
    of the mode worked last, since taps and held presses say nothing of each other."""
    values: dict[Measure, Callable[[Sequence[RepInSession]], float | None]] = {
        "first call": _first_call,
        "with the button": _with_button,
        "seconds to come": _seconds,
        "level answered": lambda reps: _level(reps, mode),
    }
    session_digests = last_sessions_with(
        scope.session_digests, lambda rep: _at(rep, drill, distraction), most
    )
    mode = newest_mode(session_digests)
    return tuple(
        _course(name, drill, distraction, session_digests, value) for name, value in values.items()
    )


def baseline(
    scope: SessionScope, drill: str | None, now: Sequence[RepInSession]
) -> Baseline | Unknown:
    """The first-call share before any stimulation, beside that of the reps `now`."""
    before: list[SessionDigest] = []
    for session_digest in scope.session_digests:
        if any(rep.mode in STIMULATION and rep.state != "void" for rep in session_digest.reps):
            break
        calls = [
            rep
            for rep in session_digest.reps
            if has_call_and_outcome(rep, drill) and rep.mode == "none"
        ]
        if len(calls) >= MIN_REPS_FOR_VALUE:
            before.append(session_digest)
    if len(before) < 2:
        return Unknown(code="no baseline", of=len(before))
    old = reps_that(before, lambda rep: has_call_and_outcome(rep, drill))
    then, today = first_call(old), first_call(now)
    if isinstance(then, Unknown) or isinstance(today, Unknown):
        return Unknown(code="no call since baseline")
    return Baseline(
        before=then,
        now=today,
        days=tuple(one.day for one in before),
        come=log_rank_test([_timed(old), _timed(now)]),
        reps=ids(old),
    )


# --- within ----------------------------------------------------------------------------


def _at(rep: RepDigest, drill: str | None, distraction: str | None) -> bool:
    return has_call_and_outcome(rep, drill) and rep.distraction == distraction


def _timed(reps: Sequence[RepInSession]) -> tuple[list[float], list[bool]]:
    durations, came = [], []
    for one in reps:
        if one.rep.latency_s is not None or one.rep.failed_s is not None:
            durations.append(one.rep.latency_s or one.rep.failed_s or 0.0)
            came.append(one.rep.latency_s is not None)
    return durations, came


def _first_call(reps: Sequence[RepInSession]) -> float | None:
    if len(reps) < MIN_REPS_FOR_VALUE:
        return None
    return sum(unaided(one.rep) for one in reps) / len(reps)


def _with_button(reps: Sequence[RepInSession]) -> float | None:
    known = [one for one in reps if one.rep.mode != "unknown"]
    if len(known) < MIN_REPS_FOR_VALUE:
        return None
    return sum(one.rep.mode in STIMULATION for one in known) / len(known)


def _seconds(reps: Sequence[RepInSession]) -> float | None:
    """The median time to come, an ignored call counting as longer than any."""
    durations, came = _timed(reps)
    times = [s if did else float("inf") for s, did in zip(durations, came, strict=True)]
    middle = median(times) if len(times) >= MIN_REPS_FOR_VALUE else None
    return None if middle == float("inf") else middle


def _level(reps: Sequence[RepInSession], mode: Mode | None) -> float | None:
    levels = [max(one.rep.levels) for one in reps if one.rep.came and pressed_in(one.rep, mode)]
    return float(median(levels)) if levels else None


def _course(
    name: Measure,
    drill: str | None,
    distraction: str | None,
    session_digests: Sequence[SessionDigest],
    value_of: Callable[[Sequence[RepInSession]], float | None],
) -> MeasureSeries:
    points = []
    for session_digest in session_digests:
        reps = reps_that([session_digest], lambda rep: _at(rep, drill, distraction))
        value = value_of(reps)
        if value is not None:
            points.append(
                MeasurePoint(
                    session=session_digest.session,
                    day=session_digest.day,
                    value=value,
                    of=len(reps),
                    reps=ids(reps),
                )
            )
    values = [point.value for point in points]
    slope = trend(list(range(len(values))), values)
    shift = self_starting_cusum(values)
    return MeasureSeries(
        measure=name,
        drill=drill,
        distraction=distraction,
        points=tuple(points),
        trend=slope,
        change=shift,
    )
