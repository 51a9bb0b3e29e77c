"""Is the dog ready for the next step: criteria with their numbers, none of which needs a press.

A dog that never meets the button can meet every criterion here, and a criterion is met by unaided
reps alone (`unaided.py`): a rep with a stimulus of any kind is read, and is not met. So is what
is doubtful, or of which the button or the outcome was not said; a doubtful strong sign counts
against. No step is due while a stop stands.

Two criteria count calls. The *evidence* is over sessions and over all looks: the points of
`statistics/session_evidence`, with which the chance that a dog that comes unaided at six calls
in ten is called ready after any of 20 sessions is under one in twenty, with good and bad days. The
*last calls* are of now: a dog that was good and became bad is not ready, whatever its past. A
session is the calls of one day, so that a day taken in two says no more; it is evidence for some
weeks only, and one whose day is not known is none.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date, timedelta
from itertools import pairwise
from typing import Literal, NamedTuple

from voicelog.analysis.collar_use import sessions_use_collar
from voicelog.analysis.criteria import Criteria
from voicelog.analysis.criterion import (
    ButtonCount,
    ByItself,
    CallCount,
    Criterion,
    EasySessions,
    EnoughEvidence,
    LastCalls,
    LittleButton,
    NoStopStands,
    NoStrongSign,
    WorkedUnder,
)
from voicelog.analysis.measure_series import current_distraction
from voicelog.analysis.session_digest import RepDigest, SessionDigest
from voicelog.analysis.session_scope import (
    RepInSession,
    SessionScope,
    all_reps,
    distraction_rank,
    ids,
    last_sessions_with,
)
from voicelog.analysis.statistics.session_evidence import (
    FULL,
    chance_of_full,
    running_points,
    session_points,
)
from voicelog.analysis.unaided import (
    asked_for_readiness,
    came_at_once,
    kept_still,
    stimulated,
    surely_unaided,
)
from voicelog.model import FrozenModel, Stage
from voicelog.model.domain import DISTRACTION_LADDER

__all__ = ["Ladder", "ReadinessStep", "ReadinessVerdict", "readiness"]

Ladder = Literal["distraction", "birds", "gun", "off the line"]

ReadinessVerdict = Literal["not yet", "nearly", "ready", "at the top"]

_Wanted = Callable[[RepDigest], bool]

LOOKS, CALLS = 20, 10
"""Sessions after each of which readiness is looked at, and calls of each, for the chance of luck
over them. With other numbers of calls it is much the same (`tests/bench/readiness_looks.py`)."""


StepState = Literal["not said", "at", "not begun", "met", "begun", "reached"]
"""Where a dog is on a ladder; met: there was game where it worked, but no work was on it."""


class ReadinessStep(FrozenModel):
    """A step on a ladder.

    `state` is where the dog is on it. On the ladder of distractions `at` is the distraction now
    and `next` the one above ("" at the top); off the line `at` is the line last said; `shot_m` is
    how far off the last shot was (m). `chance` (0 to 1) is how often a dog that comes unaided at
    six calls in ten, with good and bad days, has enough evidence by luck after any of its first 20
    sessions of ten calls; `chance_ten` after any of its first ten. The other criteria only
    lower it.
    """

    ladder: Ladder
    state: StepState
    at: str = ""
    next: str = ""
    shot_m: float | None = None
    verdict: ReadinessVerdict
    criteria: tuple[Criterion, ...]
    chance: float
    chance_ten: float


class _Look(NamedTuple):
    """What every ladder is read from: `since` is the first day that still says something, None
    where no day is known."""

    scope: SessionScope
    criteria: Criteria
    drill: str | None
    reached: Sequence[Stage]
    at: str | None
    since: date | None


def readiness(
    scope: SessionScope,
    criteria: Criteria,
    reached: Sequence[Stage] = (),
    drill: str | None = "recall",
    today: date | None = None,
) -> tuple[ReadinessStep, ...]:
    """The next step on each ladder. `reached` are the stages of the dog's profile; `today` is the
    day from which it is counted how old a session is, by default that of the last one."""
    at = current_distraction(scope, criteria, drill)
    days = [one.day for one in scope.session_digests if one.day is not None]
    now = max([*days, *([today] if today else [])], default=None)
    since = None if now is None else now - timedelta(days=criteria.ready_days)
    look = _Look(scope, criteria, drill, reached, at, since)
    return _distraction(look), _birds(look), _gun(look), _line(look)


# --- ladders ---------------------------------------------------------------------------


def _distraction(look: _Look) -> ReadinessStep:
    place = distraction_rank(look.at)
    if place is None:
        asked = EnoughEvidence(
            met=False,
            where=None,
            wanted=FULL,
            sessions=look.criteria.ready_sessions,
            days=look.criteria.ready_days,
        )
        lowest = DISTRACTION_LADDER[0]
        return _step(look, "distraction", "not said", (asked,), next_=lowest)
    where = WorkedUnder(kind="distraction", distraction=look.at)
    tested = _criteria(look, lambda rep: rep.distraction == look.at, where)
    now, above = DISTRACTION_LADDER[place], DISTRACTION_LADDER[place + 1 :]
    step = _step(look, "distraction", "at", tested, at=now, next_=(*above, "")[0])
    return step if above else step.model_copy(update={"verdict": "at the top"})


def _birds(look: _Look) -> ReadinessStep:
    def among(rep: RepDigest) -> bool:
        return rep.drill == "bird" or rep.source == "birds"

    easy = _easy_sessions(look.scope, among)
    if easy is None:
        tested = (
            *_criteria(
                look, lambda rep: (distraction_rank(rep.distraction) or 0) >= 2,
                WorkedUnder(kind="distraction or above", distraction="medium"),
            ),
            *_steady(look),
        )  # fmt: skip
        met = any(one.game for one in look.scope.session_digests)
        return _step(look, "birds", "met" if met else "not begun", tested)
    evidence = _evidence(look, _days(look, among), WorkedUnder(kind="among birds"), _met_among)
    state: Literal["reached", "begun"] = "reached" if "bird" in look.reached else "begun"
    return _step(look, "birds", state, (evidence, easy))


def _gun(look: _Look) -> ReadinessStep:
    def among(rep: RepDigest) -> bool:
        return rep.drill == "gun" or rep.source == "gunfire"

    easy = _easy_sessions(look.scope, among)
    if easy is None:
        tested = _criteria(
            look, lambda rep: (distraction_rank(rep.distraction) or 0) >= 1,
            WorkedUnder(kind="distraction or above", distraction="low"),
        )  # fmt: skip
        return _step(look, "gun", "not begun", tested)

    def shot(rep: RepDigest) -> bool:
        return rep.shot_m is not None and among(rep)

    last = last_sessions_with(look.scope.session_digests, shot, 1)
    near = [rep.shot_m for one in last for rep in one.reps if shot(rep)]
    evidence = _evidence(look, _days(look, among), WorkedUnder(kind="with gunfire"), _met_among)
    state: Literal["reached", "begun"] = "reached" if "gun" in look.reached else "begun"
    return _step(look, "gun", state, (evidence, easy), shot_m=near[-1] if near else None)


def _line(look: _Look) -> ReadinessStep:
    def wanted(rep: RepDigest) -> bool:
        return rep.line in ("trailing", "loose") and rep.distraction == look.at

    where = WorkedUnder(kind="trailing line", distraction=look.at)
    tested = _criteria(look, wanted, where)
    last = last_sessions_with(
        look.scope.session_digests,
        lambda rep: asked_for_readiness(rep, look.drill) and wanted(rep),
        look.criteria.ready_sessions,
    )
    went = [
        one
        for one in all_reps(last)
        if one.rep.state != "void" and one.rep.outcome in ("helped", "left", "broke")
    ]
    alone = ByItself(
        met=bool(last) and not went,
        reps=ids(went),
        sessions=look.criteria.ready_sessions,
        seen=bool(last),
    )
    state: Literal["reached", "begun"] = "reached" if "off line" in look.reached else "begun"
    at = _line_last_said(look.scope)
    return _step(look, "off the line", state, (*tested, alone), at=at)


def _line_last_said(scope: SessionScope) -> str:
    last = last_sessions_with(scope.session_digests, lambda rep: rep.line is not None, 1)
    return next((rep.line for one in last for rep in reversed(one.reps) if rep.line), "")


# --- criteria --------------------------------------------------------------------------


def _criteria(look: _Look, wanted: _Wanted, where: WorkedUnder) -> tuple[Criterion, ...]:
    def read(rep: RepDigest) -> bool:
        return asked_for_readiness(rep, look.drill) and wanted(rep)

    criteria = look.criteria
    last = last_sessions_with(look.scope.session_digests, read, criteria.ready_sessions)
    counted = [
        [one for one in all_reps([session_digest]) if read(one.rep)][-criteria.ready_of :]
        for session_digest in last
    ]
    tested = (*_calls(look, read, where), _no_strong(look.scope, criteria, last))
    if not sessions_use_collar(look.scope.session_digests):
        return tested  # of a button that is not there nothing is asked
    return (*tested, _little_button(criteria, counted))


def _calls(look: _Look, read: _Wanted, where: WorkedUnder) -> tuple[Criterion, Criterion]:
    days = _days(look, read)
    return _evidence(look, days, where, surely_unaided), _last_calls(look, days, where)


def _steady(look: _Look) -> tuple[Criterion, Criterion]:
    return _calls(
        look, lambda rep: asked_for_readiness(rep, "steady"), WorkedUnder(kind="drill steady")
    )


class _Days(NamedTuple):
    """The reps that are read, by day, oldest first, and how many sessions are too old or have no
    day."""

    reps: tuple[tuple[date, list[RepInSession]], ...]
    old: int
    undated: int


def _days(look: _Look, read: _Wanted) -> _Days:
    reps: dict[date, list[RepInSession]] = {}
    old = undated = 0
    for session_digest in look.scope.session_digests:
        live = (rep for rep in session_digest.reps if rep.state != "void" and read(rep))
        if session_digest.day is None or look.since is None:
            undated += any(live)
        elif session_digest.day < look.since:
            old += any(live)
        elif some := [RepInSession(session_digest, rep) for rep in live]:
            reps.setdefault(session_digest.day, []).extend(some)
    return _Days(tuple(sorted(reps.items(), key=lambda day: day[0])), old, undated)


def _evidence(look: _Look, days: _Days, where: WorkedUnder, met: _Wanted) -> EnoughEvidence:
    counts = tuple(_call_count(day, reps, met) for day, reps in days.reps)
    points = running_points([(one.met, one.of) for one in counts])
    now = points[-1] if points else 0.0
    fewest = look.criteria.ready_sessions
    full = [
        one.day
        for number, (one, had) in enumerate(zip(counts, points, strict=True), start=1)
        if had >= FULL and number >= fewest
    ]
    enough = now >= FULL and len(counts) >= fewest
    return EnoughEvidence(
        met=enough,
        reps=ids(one for _, reps in days.reps for one in reps),
        where=where,
        points=now,
        wanted=FULL,
        sessions=fewest,
        days=look.criteria.ready_days,
        counts=counts,
        full=full[-1] if full and not enough else None,
        old=days.old,
        undated=days.undated,
    )


def _last_calls(look: _Look, days: _Days, where: WorkedUnder) -> LastCalls:
    passes, of = look.criteria.ready_passes, look.criteria.ready_of
    last = [one for _, reps in days.reps for one in reps][-of:]
    found = sum(surely_unaided(one.rep) for one in last)
    return LastCalls(
        met=len(last) == of and found >= passes,
        reps=ids(last),
        where=where,
        passes=passes,
        of=of,
        found=found,
        among=len(last),
    )


def _call_count(day: date, reps: Sequence[RepInSession], met: _Wanted) -> CallCount:
    """What a day came to: how many were met, and why others were not."""
    passed = sum(met(one.rep) for one in reps)
    others = [one.rep for one in reps if not met(one.rep)]
    sure = [rep for rep in others if rep.state == "sure"]
    return CallCount(
        day=day,
        met=passed,
        of=len(reps),
        points=session_points(passed, len(reps)),
        came=sum(came_at_once(one.rep) or met(one.rep) for one in reps),
        doubtful=len(others) - len(sure),
        stimulated=sum(map(stimulated, sure)),
        unsaid=sum(not stimulated(rep) and rep.mode == "unknown" for rep in sure),
        unended=sum(rep.outcome in (None, "unknown") for rep in sure),
    )


def _no_strong(
    scope: SessionScope, criteria: Criteria, last: Sequence[SessionDigest]
) -> NoStrongSign:
    since = scope.session_digests[scope.session_digests.index(last[0]) :] if last else ()
    strong = [one for one in all_reps(since) if one.rep.strong and one.rep.state != "void"]
    signs = {s.name for one in strong for s in one.rep.signs if s.class_ == "strong"}
    return NoStrongSign(
        met=len(last) == criteria.ready_sessions and not strong,
        reps=ids(strong),
        sessions=criteria.ready_sessions,
        seen=bool(last),
        signs=tuple(sorted(signs)),
    )


def _little_button(criteria: Criteria, counted: Sequence[list[RepInSession]]) -> LittleButton:
    counts = tuple(
        ButtonCount(
            used=sum(stimulated(one.rep) for one in reps),
            unsaid=sum(one.rep.mode == "unknown" for one in reps),
            of=len(reps),
        )
        for reps in counted
    )
    most = criteria.ready_button
    enough = len(counts) == criteria.ready_sessions
    few = all(one.used + one.unsaid <= most for one in counts)
    rising = any(later.used > earlier.used for earlier, later in pairwise(counts))
    met = enough and few and not rising
    missing: Literal["", "less of it", "more sessions", "the word that none was used"] = ""
    if counts and not met:
        missing = "less of it" if not few or rising else "more sessions"
        if enough and not few and all(one.used <= most for one in counts):
            missing = "the word that none was used"
    return LittleButton(
        met=met,
        reps=ids(one for reps in counted for one in reps if stimulated(one.rep)),
        sessions=criteria.ready_sessions,
        most=most,
        of=criteria.ready_of,
        counts=counts,
        rising=rising,
        missing=missing,
    )


def _easy_sessions(scope: SessionScope, wanted: _Wanted) -> EasySessions | None:
    """Two easy sessions in a row: no stress, and no more than one rep each that was not met. None
    where the dog was never among it."""
    have = last_sessions_with(scope.session_digests, wanted, 2)
    if not have:
        return None
    run = 0
    for session_digest in reversed(have):
        live = [rep for rep in session_digest.reps if rep.state != "void" and wanted(rep)]
        met = sum(_met_among(rep) for rep in live)
        if not met or len(live) - met > 1 or any(rep.stress or rep.strong for rep in live):
            break
        run += 1
    reps = [one for one in all_reps(have[-2:]) if wanted(one.rep) and one.rep.state != "void"]
    return EasySessions(met=run >= 2, reps=ids(reps), run=run, day=have[-1].day)


def _stop_stands(scope: SessionScope) -> NoStopStands:
    return NoStopStands(
        met=False,
        reps=tuple(rep for one in scope.stops for rep in one.matter.rep_ids),
        days=tuple(one.day for one in scope.stops),
    )


def _met_among(rep: RepDigest) -> bool:
    """Whether a rep among birds or gunfire passes: where none was called, the dog stays."""
    return surely_unaided(rep) or (rep.state == "sure" and kept_still(rep))


def _step(
    look: _Look,
    ladder: Ladder,
    state: StepState,
    tested: tuple[Criterion, ...],
    *,
    at: str = "",
    next_: str = "",
    shot_m: float | None = None,
) -> ReadinessStep:
    if look.scope.stops:
        tested = (*tested, _stop_stands(look.scope))
    unmet = [one for one in tested if not one.met]
    return ReadinessStep(
        ladder=ladder,
        state=state,
        at=at,
        next=next_,
        shot_m=shot_m,
        verdict="ready" if not unmet else "nearly" if _nearly(unmet, tested) else "not yet",
        criteria=tested,
        chance=chance_of_full(CALLS, LOOKS),
        chance_ten=chance_of_full(CALLS, LOOKS // 2),
    )


def _nearly(unmet: Sequence[Criterion], tested: Sequence[Criterion]) -> bool:
    """Whether but one thing is missing; where that is evidence, half of it is there."""
    if len(unmet) != 1 or len(tested) == 1:
        return False
    (one,) = unmet
    return not isinstance(one, EnoughEvidence) or one.points >= one.wanted / 2
