"""The next session's plan: where to start, where to stop, and when to leave it.

What a plan may say:
- No button first, always. A level in it is a limit for a trainer who uses the button, never a
  task; a plan without one is complete.
- It starts at or below the lowest level that the dog has answered often enough in this mode and
  drill on this transmitter, at this distraction or an easier one. Thin evidence starts at the
  lowest level.
- A stop of the last sessions that still stands comes before all of that: no button, no step,
  easier work than before.
- Its start and its ceiling never lie above the ceiling that the reps and the profile set.
- "No session today" is a normal answer.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from datetime import date

from voicelog.analysis.course import worked_at
from voicelog.analysis.criteria import Criteria
from voicelog.analysis.levels import ceiling
from voicelog.analysis.ready import LadderStep, readiness
from voicelog.analysis.reason import Reason
from voicelog.analysis.rest import button_free, months_old, no_session, stop_reason
from voicelog.analysis.series import (
    LADDER,
    STIMULATION,
    RepInSession,
    Scope,
    called,
    day_of,
    ids,
    last_sittings,
    numbered,
    rung,
    scope_of,
    told,
)
from voicelog.analysis.sitting import Sitting
from voicelog.analysis.start import DRILL, limits
from voicelog.analysis.stops import SETTLE
from voicelog.analysis.unaided import stimulated
from voicelog.model import Dog, Mode, Record

__all__ = ["Plan", "plan"]


_CHANGED = "The profile's transmitter is not that of the last session: levels start anew."


class Plan(Record):
    """What to do next with one dog.

    `session` is False on a day without one; then only `why` and `watch` speak. `button` says
    whether it may be used at all; without it `start` and `most` are None. `start` and `most`
    are limits in `mode`: begin no higher, go no higher. `stops` are those that still stand.
    """

    dog: str
    day: date | None
    session: bool
    stops: tuple[Reason, ...]
    why: tuple[Reason, ...]
    drill: str
    warm_up: str
    distraction: str
    button: bool
    mode: Mode | None
    start: int | None
    most: int | None
    reps: int
    watch: tuple[Reason, ...]
    aim: str
    thin: bool
    """Whether there is too little to go on."""


def plan(
    sittings: Sequence[Sitting],
    dog: Dog,
    criteria: Criteria,
    today: date | None = None,
    steps: Sequence[LadderStep] | None = None,
) -> Plan:
    """The plan for a dog's next session, on `today` where it is given.

    Pure; `sittings` in any order. `dog` is the profile as it is now: its transmitter is the
    one that the plan is for. `steps` are its readiness where that was looked at already.
    """
    scope = scope_of(sittings, today)
    same = bool(scope.sittings) and scope.sittings[-1].transmitter == dog.transmitter
    levels = scope.sittings if same else ()
    limit = ceiling(_of(scope, levels), criteria, _profile_ceiling(dog, scope))
    rest = no_session(sittings, today, criteria)
    at = worked_at(scope, criteria, DRILL)
    if steps is None:
        steps = readiness(scope, criteria, dog.reached, DRILL) if scope.sittings else ()
    goal, moved = _distraction(scope, criteria, at, steps)
    free, why_free = button_free(sittings, dog, criteria, limit, today, scope)
    bounds = limits(levels, dog, criteria, goal, limit)
    months = months_old(dog, today)
    new = not any(map(_stimulated, sittings))
    pup = new or (months is not None and months < criteria.pup_months)
    changed = (Reason(words=_CHANGED),) if sittings and not same else ()
    return Plan(
        dog=dog.name,
        day=today,
        session=not rest,
        stops=tuple(map(stop_reason, scope.stops)),
        why=(
            *rest,
            *why_free,
            *moved,
            *changed,
            *(() if free else bounds.why),
        ),
        drill=DRILL,
        warm_up=_warm_up(dog, free, sittings),
        distraction=goal,
        button=not free,
        mode=None if free else bounds.mode,
        start=None if free else bounds.start,
        most=None if free else bounds.most,
        reps=criteria.plan_reps_pup if pup else criteria.plan_reps,
        watch=_watch(scope),
        aim=_aim(scope, steps, criteria),
        thin=bounds.thin,
    )


def _distraction(
    scope: Scope, criteria: Criteria, at: str | None, steps: Sequence[LadderStep]
) -> tuple[str, tuple[Reason, ...]]:
    """At which distraction to work: where the dog is, a step up when it is ready, a step down
    when the last session was hard."""
    place = rung(at)
    if place is None:
        why = "No distraction was worked often enough yet: begin with none."
        return LADDER[0], (Reason(words=why),)
    if scope.stops:
        easier = LADDER[max(0, place - 1)]
        what = f"stay at {at}" if easier == at else f"{easier}, easier than {at}"
        return easier, (Reason(words=f"After a stop no step: {what}."),)
    step = next(one for one in steps if one.ladder == "distraction")
    reps = [
        one
        for one in told(last_sittings(scope.sittings, lambda r: called(r, DRILL), 1))
        if called(one.rep, DRILL) and one.rep.distraction == at
    ]
    strong = [
        one
        for one in told(scope.sittings[-1:])
        if one.rep.strong and one.rep.heard != "void" and one.rep.distraction == at
    ]
    alone = sum(one.rep.came and not stimulated(one.rep) for one in reps)
    few = len(reps) >= criteria.step_reps and 2 * alone < len(reps)
    if place > 0 and (strong or few):
        why = f"A strong sign at {at} in the last session: easier."
        if not strong:
            why = (
                f"At {at} it came with no stimulus in fewer than half of the last "
                f"{numbered(len(reps), 'rep')}: easier."
            )
        return LADDER[place - 1], (Reason(words=why, reps=ids(strong or reps)),)
    if step.verdict == "ready":
        why = f"Ready for {step.next}: begin there with what it knows, and go back if it is much."
        return step.next, (Reason(words=why, reps=step.criteria[0].reps),)
    return LADDER[place], (Reason(words=f"{step.words} Stay at {at}.", reps=step.criteria[0].reps),)


# --- the rest --------------------------------------------------------------------------


def _warm_up(dog: Dog, free: bool, sittings: Sequence[Sitting]) -> str:
    easy = "Two easy recalls that it knows, no button."
    felt = [
        one
        for one in told(sittings)
        if one.rep.mode == "vibrate" and one.rep.strong and one.rep.heard != "void"
    ]
    if free or "vibrate" not in dog.transmitter.modes:
        return easy
    if felt:
        return f"{easy} No vibrate: it showed a strong sign to it."
    return f"{easy} Whoever means to use the button begins on vibrate."


def _watch(scope: Scope) -> tuple[Reason, ...]:
    """The signs this dog shows: the first to see, and those of stress."""
    noticed: dict[str, list[RepInSession]] = defaultdict(list)
    strong: dict[str, list[RepInSession]] = defaultdict(list)
    weak: Counter[str] = Counter()
    for one in told(scope.sittings[-40:]):
        if one.rep.heard == "void":
            continue
        for sign in one.rep.signs:
            if sign.class_ == "noticed" and one.rep.heard == "sure":
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
                words=f"First sign so far: {name} ({numbered(len(noticed[name]), 'rep')}).",
                reps=ids(noticed[name]),
            )
        )
    for name, reps in strong.items():
        levels = [
            s.level for one in reps for s in one.rep.signs if s.name == name and s.level is not None
        ]
        at = f" at level {min(levels)}" if levels else ""
        found.append(
            Reason(
                words=f"{name.capitalize()}{at} ({day_of(reps[-1].sitting)}): thumb off at once.",
                reps=ids(reps),
            )
        )
    if weak:
        common = ", ".join(f"{name} ({many})" for name, many in weak.most_common(3))
        found.append(Reason(words=f"Weak signs before: {common}. Two in one rep: stop."))
    if not found:
        found.append(Reason(words="No sign was ever said of it: say what the body shows first."))
    return tuple(found)


def _aim(scope: Scope, steps: Sequence[LadderStep], criteria: Criteria) -> str:
    if scope.stops:
        return f"{SETTLE.capitalize()}: end on a call that it knows."
    if not steps:
        return "See what it does with no button; say the distraction and each call."
    step = steps[0]
    if step.verdict == "ready":
        return f"Show that {step.next} is not too much: end after a good one."
    return (
        f"{criteria.ready_passes} of {criteria.ready_of} at the first call, unaided, and end on a "
        "rep that it knows."
    )


def _of(scope: Scope, sittings: Sequence[Sitting]) -> Scope:
    return Scope(
        tuple(sittings),
        scope.other_reps,
        scope.other_until,
        scope.undated,
        scope.notes,
        scope.stops,
    )


def _profile_ceiling(dog: Dog, scope: Scope) -> int | None:
    """The lowest of the profile's ceiling and the one last said in a session."""
    said = [one.ceiling for one in scope.sittings[-1:] if one.ceiling is not None]
    own = [dog.ceiling] if dog.ceiling is not None else []
    return min((*said, *own), default=None)


def _stimulated(sitting: Sitting) -> bool:
    return any(rep.mode in STIMULATION and rep.heard == "sure" for rep in sitting.tries)
