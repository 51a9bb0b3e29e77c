"""Everything that the analysis says of one dog, as one value."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from voicelog.analysis.course import Baseline, Course, baseline, course, worked_at
from voicelog.analysis.criteria import Criteria
from voicelog.analysis.levels import Ceiling, LevelSeries, ceiling, level_series
from voicelog.analysis.plan import Plan, plan
from voicelog.analysis.ready import LadderStep, readiness
from voicelog.analysis.series import called, last_sittings, scope_of, told
from voicelog.analysis.shares import Shares, drills, shares
from voicelog.analysis.sitting import Sitting
from voicelog.analysis.times import Times, times
from voicelog.analysis.unknown import Unknown
from voicelog.model import Dog, Record

__all__ = ["Overview", "overview"]


class Overview(Record):
    """The results of the analysis of one dog, as they are, for other programs."""

    dog: str
    notes: tuple[str, ...]
    ceiling: Ceiling
    levels: tuple[LevelSeries, ...]
    shares: tuple[Shares, ...]
    times: tuple[Times, ...]
    baseline: Baseline | Unknown
    course: tuple[Course, ...]
    readiness: tuple[LadderStep, ...]
    plan: Plan


def overview(
    sittings: Sequence[Sitting], dog: Dog, criteria: Criteria, today: date | None = None
) -> Overview:
    """Everything that the analysis says of a dog; pure."""
    scope = scope_of(sittings, today)
    worked = drills(scope, criteria)
    main = worked[0] if worked else "recall"
    at = worked_at(scope, criteria, main)
    now = [
        one
        for one in told(
            last_sittings(scope.sittings, lambda rep: called(rep, main), criteria.look_back)
        )
        if called(one.rep, main)
    ]
    steps = readiness(scope, criteria, dog.reached) if scope.sittings else ()
    return Overview(
        dog=dog.name,
        notes=scope.notes,
        ceiling=ceiling(scope, criteria, dog.ceiling),
        levels=level_series(scope, criteria),
        shares=tuple(one for drill in worked for one in shares(scope, criteria, drill)),
        times=tuple(times(scope, criteria, drill) for drill in worked),
        baseline=baseline(scope, main, now),
        course=course(scope, main, at) if worked else (),
        readiness=steps,
        plan=plan(sittings, dog, criteria, today, steps),
    )
