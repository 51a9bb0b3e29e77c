"""The next session's plan: where to start, where to stop, and when to leave it.

What a plan may say:
- No button first, always. A level in it is a limit for a trainer who uses the button, never a
  task; a plan without one is complete.
- It starts at or below the lowest level that the dog has answered often enough in this mode and
  drill on this transmitter. Too few reps, and evidence that has faded, start at the lowest level;
  so does a transmitter that the last session was not on.
- After a day that went badly nothing is harder than it was before it, until a later day went well
  (`bad_days`).
- A stop that no person has closed comes before all of that: no button, no step,
  easier work than before.
- Its start and its ceiling never lie above the ceiling that the reps and the profile set.
- "No session today" is a normal answer.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from datetime import date
from typing import Literal

from voicelog.analysis.bad_days import EASY_CALLS, BadDay, bad_days
from voicelog.analysis.criteria import Criteria
from voicelog.analysis.dog_ceiling import dog_ceiling
from voicelog.analysis.level_limits import DRILL, level_limits, lowest_limits
from voicelog.analysis.measure_series import current_distraction
from voicelog.analysis.open_matters import OpenMatter, as_left, standing
from voicelog.analysis.planned_sessions import felt_vibrate, planned_sessions
from voicelog.analysis.readiness import ReadinessStep, readiness
from voicelog.analysis.reason import Reason, ReasonCode
from voicelog.analysis.rest import button_free, matter_reason, months_old, reasons_to_rest
from voicelog.analysis.session_digest import SessionDigest, by_date
from voicelog.analysis.session_scope import (
    RepInSession,
    SessionScope,
    distraction_rank,
    ids,
    reps_that,
    scope_of,
)
from voicelog.model import Dog, FrozenModel, Mode
from voicelog.model.domain import DISTRACTION_LADDER, STIMULATION

__all__ = ["Aim", "Plan", "WarmUp", "plan"]

WarmUp = Literal["easy", "not on vibrate", "on vibrate"]
"""Easy recalls without the button; for who means to use it, whether to begin on vibrate."""


class Aim(FrozenModel):
    """What the session is for. `passes` of `of` calls, or the `next` distraction."""

    code: Literal["settle the stop", "see without the button", "next step", "first calls"]
    passes: int = 0
    of: int = 0
    next: str = ""


_BARS_WORK = frozenset({"sore skin", "aggression"})
"""Reasons for no session that last until a person has closed a matter."""


class Plan(FrozenModel):
    """What to do next with one dog.

    `session` is False on a day without one; then only `why` and `watch` speak. `button` says
    whether it may be used at all; without it `start` and `most` are None. `start` and `most`
    are limits in `mode`: begin no higher, go no higher. `stops` are the open matters that bar the
    button, `matters` the others that stand, `closed` those that a person closed lately, which were
    so all the same.
    """

    dog: str
    day: date | None
    session: bool
    stops: tuple[Reason, ...]
    matters: tuple[Reason, ...]
    closed: tuple[Reason, ...]
    why: tuple[Reason, ...]
    drill: str
    warm_up: WarmUp
    distraction: str
    button: bool
    mode: Mode | None
    start: int | None
    most: int | None
    reps: int
    watch: tuple[Reason, ...]
    aim: Aim
    thin: bool
    """Whether there is too little to go on."""

    @property
    def names_levels(self) -> bool:
        """Whether it has limits of a level for who uses the button; else no paper names one."""
        return self.session and self.button

    @property
    def waits_a_day(self) -> bool:
        """Whether there is no session today and nothing bars one on another day."""
        return not self.session and all(one.code not in _BARS_WORK for one in self.why)


def plan(
    session_digests: Sequence[SessionDigest],
    dog: Dog,
    criteria: Criteria,
    today: date | None = None,
    steps: Sequence[ReadinessStep] | None = None,
    matters: Sequence[OpenMatter] | None = None,
) -> Plan:
    """The plan for a dog's next session, on `today` where it is given.

    Pure; `session_digests` in any order, of which it rests on the `planned_sessions` alone, so that
    every paper has the same plan. `dog` is the profile as it is now: its transmitter is the
    one that the plan is for. `steps` are its readiness where that was looked at already, `matters`
    its list of open matters (None: as the sessions left them).
    """
    planned = planned_sessions(session_digests)
    open_ = as_left(by_date(session_digests)) if matters is None else matters
    return plan_of(scope_of(planned, today, open_), planned, dog, criteria, today, steps)


def plan_of(
    scope: SessionScope,
    session_digests: Sequence[SessionDigest],
    dog: Dog,
    criteria: Criteria,
    today: date | None = None,
    steps: Sequence[ReadinessStep] | None = None,
) -> Plan:
    """The same where the `planned_sessions` and their scope, with the dog's matters, are at
    hand."""
    same = bool(scope.session_digests) and scope.session_digests[-1].transmitter == dog.transmitter
    levels = scope.session_digests if same else ()
    limit = dog_ceiling(session_digests, dog, criteria, matters=scope.matters)
    rest = reasons_to_rest(session_digests, today, criteria, scope.matters)
    at = current_distraction(scope, criteria, DRILL)
    if steps is None:
        steps = (
            readiness(scope, criteria, dog.reached, DRILL, today) if scope.session_digests else ()
        )
    bad = bad_days(session_digests, criteria, scope.matters)
    goal, moved = _distraction(scope, criteria, at, steps, bad, session_digests)
    free, why_free = button_free(session_digests, dog, criteria, limit, today, scope)
    bounds = lowest_limits(
        level_limits(levels, dog, criteria, goal, limit, today),
        [
            level_limits(_on(dog, before), dog, criteria, goal, limit, today)
            for before in _before([one for one in bad if one.is_grave], session_digests)
        ],
    )
    months = months_old(dog, today)
    new = not any(map(_stimulated, session_digests))
    pup = new or (months is not None and months < criteria.pup_months)
    changed = (Reason(code="other transmitter"),) if session_digests and not same else ()
    most_reps = criteria.plan_reps_pup if pup else criteria.plan_reps
    if bad:
        most_reps = min(criteria.plan_reps_pup, criteria.plan_reps)
    return Plan(
        dog=dog.name,
        day=today,
        session=not rest,
        stops=tuple(map(matter_reason, scope.stops)),
        matters=tuple(matter_reason(one) for one in standing(scope.matters) if not one.matter.stop),
        closed=tuple(matter_reason(one) for one in scope.matters if one.state == "closed"),
        why=(
            *rest,
            *why_free,
            *(() if any(one.code in _BARS_WORK for one in rest) else moved),
            *changed,
            *(() if free else bounds.why),
        ),
        drill=DRILL,
        warm_up=_warm_up(dog, free, session_digests),
        distraction=goal,
        button=not free,
        mode=None if free else bounds.mode,
        start=None if free else bounds.start,
        most=None if free else bounds.most,
        reps=most_reps,
        watch=_watch(scope),
        aim=_aim(scope, steps, criteria, most_reps, goal),
        thin=bounds.thin,
    )


def _distraction(
    scope: SessionScope,
    criteria: Criteria,
    at: str | None,
    steps: Sequence[ReadinessStep],
    bad: Sequence[BadDay],
    session_digests: Sequence[SessionDigest],
) -> tuple[str, tuple[Reason, ...]]:
    """At which distraction to work: where the dog is, a step up when it is ready, easier than
    where a day went badly, and never harder than before such a day."""
    place = distraction_rank(at)
    if place is None:
        return DISTRACTION_LADDER[0], (Reason(code="no distraction"),)
    bounds = [(place, None), *_eased(scope, criteria, bad, session_digests)]
    goal, day = min(bounds, key=lambda one: one[0])
    if scope.stops:
        easier = DISTRACTION_LADDER[min(goal, max(0, place - 1))]
        return easier, (Reason(code="after a stop", at=DISTRACTION_LADDER[place], next=easier),)
    if bad:
        return DISTRACTION_LADDER[goal], (_bad_reason(day or bad[-1], goal),)
    step = next(one for one in steps if one.ladder == "distraction")
    if step.verdict == "ready":
        ready = Reason(code="ready", next=step.next, reps=step.criteria[0].reps)
        return step.next, (ready,)
    return DISTRACTION_LADDER[place], (
        Reason(
            code="not ready",
            at=DISTRACTION_LADDER[place],
            step=step,
            reps=step.criteria[0].reps,
        ),
    )


def _eased(
    scope: SessionScope,
    criteria: Criteria,
    bad: Sequence[BadDay],
    session_digests: Sequence[SessionDigest],
) -> list[tuple[int, BadDay | None]]:
    """Above which places on the ladder not to work: a step below where each day went badly, and
    where the dog was before it."""
    found: list[tuple[int, BadDay | None]] = [
        (max(0, one.at - 1), one) for one in reversed(bad) if one.at is not None
    ]
    for one, before in zip(bad, _before(bad, session_digests), strict=True):
        was = current_distraction(scope_of(before, None, scope.matters), criteria, DRILL)
        found.append((distraction_rank(was) or 0, one))
    return found


def _before(
    bad: Sequence[BadDay], session_digests: Sequence[SessionDigest]
) -> Iterator[tuple[SessionDigest, ...]]:
    """For each bad day the sessions before it, oldest first."""
    ordered = by_date(session_digests)
    names = [one.session for one in ordered]
    return (ordered[: names.index(one.session)] for one in bad)


def _on(dog: Dog, ordered: Sequence[SessionDigest]) -> tuple[SessionDigest, ...]:
    """Those on the dog's transmitter, none where the last one was not."""
    if not ordered or ordered[-1].transmitter != dog.transmitter:
        return ()
    return tuple(one for one in ordered if one.transmitter == dog.transmitter)


def _bad_reason(one: BadDay, goal: int) -> Reason:
    at = "" if one.at is None else DISTRACTION_LADDER[one.at]
    if one.strong and at:
        code: ReasonCode = "strong sign there"
    else:
        code = "few unaided" if one.few and at else "bad day"
    return Reason(
        code=code,
        day=one.day,
        at=at,
        next=DISTRACTION_LADDER[goal],
        count=one.of,
        needed=EASY_CALLS,
        names=(*one.strong, *([f"skin {one.skin}"] if one.skin else [])),
        counts=(len(one.rules),),
        reps=one.reps,
    )


# --- the rest --------------------------------------------------------------------------


def _warm_up(dog: Dog, free: bool, session_digests: Sequence[SessionDigest]) -> WarmUp:
    if free or "vibrate" not in dog.transmitter.modes:
        return "easy"
    return "not on vibrate" if any(map(felt_vibrate, session_digests)) else "on vibrate"


def _watch(scope: SessionScope) -> tuple[Reason, ...]:
    """The signs this dog shows: the first to see, and those of stress, those of a matter that
    stands too where no rep that counts has them."""
    noticed: dict[str, list[RepInSession]] = defaultdict(list)
    strong: dict[str, list[RepInSession]] = defaultdict(list)
    weak: Counter[str] = Counter()
    for one in reps_that(
        scope.session_digests[-40:], lambda rep: rep.signs and rep.state != "void"
    ):
        for sign in one.rep.signs:
            if sign.class_ == "noticed" and one.rep.state == "sure":
                noticed[sign.name].append(one)
            elif sign.class_ == "strong":
                strong[sign.name].append(one)
            elif sign.class_ == "weak":
                weak[sign.name] += 1
    found = []
    if noticed:
        name = max(noticed, key=lambda sign: len(noticed[sign]))
        found.append(
            Reason(
                code="first sign",
                names=(name,),
                count=len(noticed[name]),
                reps=ids(noticed[name]),
            )
        )
    found += [
        Reason(code="strong sign", names=(name,), day=reps[-1].session_digest.day, reps=ids(reps))
        for name, reps in strong.items()
    ]
    found += [
        Reason(code="strong sign", names=(name,), day=one.day, reps=one.matter.rep_ids)
        for one in standing(scope.matters)
        if one.matter.kind != "skin"
        for name in one.matter.names
        if name not in strong
    ]
    if weak:
        names, counts = zip(*weak.most_common(3), strict=True)
        found.append(Reason(code="weak signs", names=names, counts=counts))
    if not found:
        found.append(Reason(code="no sign"))
    return tuple(found)


def _aim(
    scope: SessionScope,
    steps: Sequence[ReadinessStep],
    criteria: Criteria,
    most_reps: int,
    goal: str,
) -> Aim:
    """What the session is for: of no more calls than it is planned for."""
    if scope.stops:
        return Aim(code="settle the stop")
    if not steps:
        return Aim(code="see without the button")
    step = steps[0]
    if step.verdict == "ready" and step.next == goal:
        return Aim(code="next step", next=step.next)
    of = min(criteria.ready_of, most_reps)
    passes = -(-criteria.ready_passes * of // criteria.ready_of)  # the same share, rounded up
    return Aim(code="first calls", passes=passes, of=of)


def _stimulated(session_digest: SessionDigest) -> bool:
    return any(rep.mode in STIMULATION and rep.state == "sure" for rep in session_digest.reps)
