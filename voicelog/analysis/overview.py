"""Everything that the analysis says of one dog, as one value."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from voicelog.analysis.criteria import Criteria
from voicelog.analysis.dog_ceiling import dog_ceiling
from voicelog.analysis.levels import Ceiling, LevelSeries, level_series
from voicelog.analysis.measure_series import (
    Baseline,
    MeasureSeries,
    baseline,
    current_distraction,
    measure_series,
)
from voicelog.analysis.open_matters import OpenMatter
from voicelog.analysis.plan import Plan, plan_of
from voicelog.analysis.planned_sessions import planned_sessions
from voicelog.analysis.readiness import ReadinessStep, readiness
from voicelog.analysis.response_rates import ResponseRates, drills, response_rates
from voicelog.analysis.response_times import ResponseTimes, times
from voicelog.analysis.session_digest import SessionDigest
from voicelog.analysis.session_scope import ScopeNote, scope_of
from voicelog.analysis.statistics.unknown import Unknown
from voicelog.analysis.story import Story, story
from voicelog.model import Dog, FrozenModel

__all__ = ["DogOverview", "overview"]


class DogOverview(FrozenModel):
    """The results of the analysis of one dog, as they are, for other programs."""

    dog: str
    notes: tuple[ScopeNote, ...]
    ceiling: Ceiling
    levels: tuple[LevelSeries, ...]
    shares: tuple[ResponseRates, ...]
    times: tuple[ResponseTimes, ...]
    baseline: Baseline | Unknown
    course: tuple[MeasureSeries, ...]
    readiness: tuple[ReadinessStep, ...]
    plan: Plan
    story: Story
    matters: tuple[OpenMatter, ...]


def overview(
    session_digests: Sequence[SessionDigest],
    dog: Dog,
    criteria: Criteria,
    today: date | None = None,
    matters: Sequence[OpenMatter] | None = None,
) -> DogOverview:
    """Everything that the analysis says of a dog; pure. `matters` is its list of open matters
    (None: as the sessions left them)."""
    scope = scope_of(session_digests, today, matters)
    unit = scope.session_digests[-1].transmitter if scope.session_digests else None
    worked = drills(scope, criteria)
    main = worked[0] if worked else "recall"
    at = current_distraction(scope, criteria, main)
    called = scope.asked_for(main)
    now = [
        one
        for place in scope.last_with(called, criteria.look_back)
        for one in scope.reps_in(place, called)
    ]
    planned = planned_sessions(session_digests)
    lately = scope_of(planned, today, scope.matters)
    steps = readiness(lately, criteria, dog.reached, today=today) if planned else ()
    return DogOverview(
        dog=dog.name,
        notes=scope.notes,
        ceiling=dog_ceiling(planned, dog, criteria, unit, scope.matters),
        levels=level_series(scope, criteria),
        shares=tuple(one for drill in worked for one in response_rates(scope, criteria, drill)),
        times=tuple(times(scope, criteria, drill) for drill in worked),
        baseline=baseline(scope, main, now),
        course=measure_series(scope, main, at) if worked else (),
        readiness=steps,
        plan=plan_of(lately, planned, dog, criteria, today, steps),
        story=story(session_digests, criteria, today),
        matters=scope.matters,
    )
