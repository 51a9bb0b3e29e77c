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

from voicelog.analysis.criteria import Criteria
from voicelog.analysis.level_limits import DRILL, level_limits
from voicelog.analysis.levels import ceiling
from voicelog.analysis.measure_series import current_distraction
from voicelog.analysis.open_stops import STOP_CLOSED_BY
from voicelog.analysis.readiness import ReadinessStep, readiness
from voicelog.analysis.reason import Reason
from voicelog.analysis.rest import button_free, months_old, reasons_to_rest, stop_reason
from voicelog.analysis.session_digest import SessionDigest
from voicelog.analysis.session_scope import (
    DISTRACTION_LADDER,
    STIMULATION,
    RepInSession,
    SessionScope,
    called,
    day_of,
    distraction_rank,
    ids,
    last_sessions_with,
    numbered,
    scope_of,
    told,
)
from voicelog.analysis.unaided import stimulated
from voicelog.model import Dog, FrozenModel, Mode

__all__ = ["Plan", "plan"]


_CHANGED = "The profile's transmitter is not that of the last session: levels start anew."


class Plan(FrozenModel):
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
    session_digests: Sequence[SessionDigest],
    dog: Dog,
    criteria: Criteria,
    today: date | None = None,
    steps: Sequence[ReadinessStep] | None = None,
) -> Plan:
    """The plan for a dog's next session, on `today` where it is given.

    Pure; `session_digests` in any order. `dog` is the profile as it is now: its transmitter is the
    one that the plan is for. `steps` are its readiness where that was looked at already.
    """
    scope = scope_of(session_digests, today)
    same = bool(scope.session_digests) and scope.session_digests[-1].transmitter == dog.transmitter
    levels = scope.session_digests if same else ()
    limit = ceiling(_of(scope, levels), criteria, _profile_ceiling(dog, scope))
    rest = reasons_to_rest(session_digests, today, criteria)
    at = current_distraction(scope, criteria, DRILL)
    if steps is None:
        steps = readiness(scope, criteria, dog.reached, DRILL) if scope.session_digests else ()
    goal, moved = _distraction(scope, criteria, at, steps)
    free, why_free = button_free(session_digests, dog, criteria, limit, today, scope)
    bounds = level_limits(levels, dog, criteria, goal, limit)
    months = months_old(dog, today)
    new = not any(map(_stimulated, session_digests))
    pup = new or (months is not None and months < criteria.pup_months)
    changed = (Reason(words=_CHANGED),) if session_digests and not same else ()
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
        warm_up=_warm_up(dog, free, session_digests),
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
    scope: SessionScope, criteria: Criteria, at: str | None, steps: Sequence[ReadinessStep]
) -> tuple[str, tuple[Reason, ...]]:
    """At which distraction to work: where the dog is, a step up when it is ready, a step down
    when the last session was hard."""
    place = distraction_rank(at)
    if place is None:
        why = "No distraction was worked often enough yet: begin with none."
        return DISTRACTION_LADDER[0], (Reason(words=why),)
    if scope.stops:
        easier = DISTRACTION_LADDER[max(0, place - 1)]
        what = f"stay at {at}" if easier == at else f"{easier}, easier than {at}"
        return easier, (Reason(words=f"After a stop no step: {what}."),)
    step = next(one for one in steps if one.ladder == "distraction")
    reps = [
        one
        for one in told(last_sessions_with(scope.session_digests, lambda r: called(r, DRILL), 1))
        if called(one.rep, DRILL) and one.rep.distraction == at
    ]
    strong = [
        one
        for one in told(scope.session_digests[-1:])
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
        return DISTRACTION_LADDER[place - 1], (Reason(words=why, reps=ids(strong or reps)),)
    if step.verdict == "ready":
        why = f"Ready for {step.next}: begin there with what it knows, and go back if it is much."
        return step.next, (Reason(words=why, reps=step.criteria[0].reps),)
    return DISTRACTION_LADDER[place], (
        Reason(words=f"{step.words} Stay at {at}.", reps=step.criteria[0].reps),
    )


# --- the rest --------------------------------------------------------------------------


def _warm_up(dog: Dog, free: bool, session_digests: Sequence[SessionDigest]) -> str:
    easy = "Two easy recalls that it knows, no button."
    felt = [
        one
        for one in told(session_digests)
        if one.rep.mode == "vibrate" and one.rep.strong and one.rep.heard != "void"
    ]
    if free or "vibrate" not in dog.transmitter.modes:
        return easy
    if felt:
        return f"{easy} No vibrate: it showed a strong sign to it."
    return f"{easy} Whoever means to use the button begins on vibrate."


def _watch(scope: SessionScope) -> tuple[Reason, ...]:
    """The signs this dog shows: the first to see, and those of stress."""
    noticed: dict[str, list[RepInSession]] = defaultdict(list)
    strong: dict[str, list[RepInSession]] = defaultdict(list)
    weak: Counter[str] = Counter()
    for one in told(scope.session_digests[-40:]):
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
                words=f"{name.capitalize()}{at} ({day_of(reps[-1].session_digest)}): "
                "thumb off at once.",
                reps=ids(reps),
            )
        )
    if weak:
        common = ", ".join(f"{name} ({many})" for name, many in weak.most_common(3))
        found.append(Reason(words=f"Weak signs before: {common}. Two in one rep: stop."))
    if not found:
        found.append(Reason(words="No sign was ever said of it: say what the body shows first."))
    return tuple(found)


def _aim(scope: SessionScope, steps: Sequence[ReadinessStep], criteria: Criteria) -> str:
    if scope.stops:
        return f"{STOP_CLOSED_BY.capitalize()}: end on a call that it knows."
    if not steps:
        return "See what it does with no button; say the distraction and each call."
    step = steps[0]
    if step.verdict == "ready":
        return f"Show that {step.next} is not too much: end after a good one."
    return (
        f"{criteria.ready_passes} of {criteria.ready_of} at the first call, unaided, and end on a "
        "rep that it knows."
    )


def _of(scope: SessionScope, session_digests: Sequence[SessionDigest]) -> SessionScope:
    return SessionScope(
        tuple(session_digests),
        scope.other_reps,
        scope.other_until,
        scope.undated,
        scope.notes,
        scope.stops,
    )


def _profile_ceiling(dog: Dog, scope: SessionScope) -> int | None:
    """The lowest of the profile's ceiling and the one last said in a session."""
    said = [one.ceiling for one in scope.session_digests[-1:] if one.ceiling is not None]
    own = [dog.ceiling] if dog.ceiling is not None else []
    return min((*said, *own), default=None)


def _stimulated(session_digest: SessionDigest) -> bool:
    return any(rep.mode in STIMULATION and rep.heard == "sure" for rep in session_digest.tries)
