"""The whole kennel at a glance: who was worked, who is due, who is stuck, who showed stress.

It reads only the sessions that a dog's plan is made from, so that it says what the plan says. A dog
that cannot be worked out says so in its own line, and takes no other with it. Everything is about
dogs, not about who is better: a handler's level stands beside the same dog's level with another,
and nothing is said of a litter of fewer than eight pups.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from statistics import median

from voicelog.analysis.criteria import Criteria
from voicelog.analysis.measure_series import current_distraction
from voicelog.analysis.open_matters import OpenMatter, as_left, last_bad_day, standing
from voicelog.analysis.plan import Plan, plan_of
from voicelog.analysis.planned_sessions import planned_sessions
from voicelog.analysis.readiness import ReadinessStep, readiness
from voicelog.analysis.reason import Reason
from voicelog.analysis.recent_calls import LAST_SESSIONS
from voicelog.analysis.response_rates import first_call
from voicelog.analysis.session_digest import RepDigest, SessionDigest
from voicelog.analysis.session_scope import (
    RepInSession,
    SessionScope,
    has_call_and_outcome,
    ids,
    reps_that,
    scope_of,
)
from voicelog.analysis.statistics.proportion import Proportion
from voicelog.analysis.statistics.unknown import Unknown
from voicelog.analysis.story import Story, story
from voicelog.model import Dog, FrozenModel
from voicelog.model.domain import FIND_LEVEL, STIMULATION
from voicelog.model.names import name_key

__all__ = [
    "KENNEL_SESSIONS",
    "SHOWN_MATTERS",
    "DogStatus",
    "HandlerLevel",
    "Kennel",
    "Litter",
    "kennel",
    "plan_in_short",
]

KENNEL_SESSIONS = LAST_SESSIONS
"""How many of a dog's last sessions the kennel looks at."""
SHOWN_MATTERS = 3
"""So many matters of a dog that stand are named, those that say stop and the newest first; the
rest are counted, so that a kennel holds no more of them than it shows."""


class DogStatus(FrozenModel):
    """One dog. `last` is the day of its last session; it and `days_since` are None where there is
    none, or where it has no date."""

    dog: str
    last: date | None
    days_since: int | None
    today: bool
    sessions: int
    """Among the last ones looked at."""
    first_call: Proportion | Unknown
    story: Story | None
    """None where the dog could not be worked out."""
    due: bool
    stuck: Reason | None
    stress: tuple[Reason, ...]
    see: tuple[Reason, ...]
    """What the head trainer should see: `SHOWN_MATTERS` open matters, those of the last bad day
    that were closed, stress that none of them names, a dog that is stuck."""
    more: int = 0
    """Open matters that are not in `see`."""
    more_stop: bool = False
    """Whether one of these says stop."""
    still: frozenset[str] = frozenset()
    """The sessions (ids), of those looked at, with an open matter."""
    plan: Plan | None
    """None where the dog could not be worked out; `see` says so. Of its matters, stops and closed
    ones only the first `SHOWN_MATTERS` are in it."""

    @property
    def open(self) -> int:
        """How many matters are open."""
        return self.more + sum(one.matter is not None and one.matter.stands for one in self.see)

    @property
    def stopped(self) -> bool:
        """Whether a stop stands, or nothing is known."""
        return self.plan is None or bool(self.plan.stops)


class HandlerLevel(FrozenModel):
    """One handler's reps with one dog in one drill and mode: the middle level answered."""

    dog: str
    drill: str | None
    mode: str
    handler: str
    answered: float | None
    of: int
    strong: int
    reps: tuple[str, ...]


class Litter(FrozenModel):
    """The pups of one litter: `of` of them have recalls, `needed` must have for a verdict."""

    name: str
    pups: tuple[str, ...]
    of: int
    needed: int
    first_call: tuple[float, float, float] | None
    """Lowest, middle and highest share of the pups; None where there is no verdict."""


class Kennel(FrozenModel):
    """Every dog, those the head trainer should see first."""

    day: date
    dogs: tuple[DogStatus, ...]
    handlers: tuple[HandlerLevel, ...]
    litters: tuple[Litter, ...]
    no_dog: int = 0
    """Open matters of sessions in which no dog was named."""
    no_dog_stop: bool = False
    """Whether one of these says stop."""


def kennel(
    session_digests: Mapping[str, Sequence[SessionDigest]],
    dogs: Sequence[Dog],
    criteria: Mapping[str, Criteria],
    today: date,
    matters: Mapping[str, Sequence[OpenMatter]] | None = None,
) -> Kennel:
    """The kennel on a day.

    Args:
        session_digests: of each dog by name, in any order; of dogs on the roster or not.
        dogs: the roster; a dog without sessions is listed as due.
        criteria: for each dog by name; those of "" for all others.
        matters: the open matters of each dog by name, of all its sessions; None: as the sessions
            given left them.
    """
    known = {name_key(dog.name): dog for dog in dogs}
    names = dict.fromkeys([dog.name for dog in dogs] + list(filter(None, session_digests)))
    lines, handlers = [], []
    for name in names:
        own = planned_sessions(session_digests.get(name, ()))
        last = max(own, key=lambda one: (one.began is not None, one.began), default=None)
        dog = known.get(name_key(name)) or _as_last(name, last)
        rules = criteria.get(name) or criteria.get("") or Criteria()
        open_ = as_left(own) if matters is None else tuple(matters.get(name, ()))
        try:
            scope = scope_of(own, today, open_)
            line = _line(dog, own, rules, today, scope)
            by_handler = _handlers(name, scope, rules)
        except Exception as error:  # whatever it is, the other dogs have to be seen
            line, by_handler = _not_worked_out(dog, own, error), []
        lines.append(line)
        handlers += by_handler
    lines.sort(
        key=lambda line: (
            not line.stopped,
            -len(line.see) - line.more,
            not line.today,
            not line.due,
            line.dog,
        )
    )
    rules = criteria.get("") or Criteria()
    nobodys = standing(() if matters is None else matters.get("", ()))
    return Kennel(
        day=today,
        dogs=tuple(lines),
        handlers=tuple(handlers),
        litters=_litters(dogs, {line.dog: line for line in lines}, rules),
        no_dog=len(nobodys),
        no_dog_stop=any(one.is_stop for one in nobodys),
    )


# --- one dog ---------------------------------------------------------------------------


def _as_last(name: str, last: SessionDigest | None) -> Dog:
    return Dog(name=name) if last is None else Dog(name=name, transmitter=last.transmitter)


def _line(
    dog: Dog,
    session_digests: Sequence[SessionDigest],
    criteria: Criteria,
    today: date,
    scope: SessionScope,
) -> DogStatus:
    last = scope.session_digests[-1] if scope.session_digests else None
    since = None if last is None or last.began is None else (today - last.began.date()).days
    here = [one for one in scope.session_digests if one.began and one.began.date() == today]
    recent = here or ([last] if last else [])
    reps = reps_that(scope.session_digests[-criteria.look_back :], _is_recall)
    at = current_distraction(scope, criteria, "recall")
    steps = readiness(scope, criteria, dog.reached, today=today) if scope.session_digests else ()
    advice = plan_of(scope, session_digests, dog, criteria, today, steps)
    stuck = _stuck(scope, criteria, at, steps)
    stress = _stress(recent)
    open_ = (*advice.stops, *advice.matters)
    more = open_[SHOWN_MATTERS:]
    still = {one.matter.session for one in standing(scope.matters)}
    bad = last_bad_day(scope.matters, today)
    closed = tuple(one for one in advice.closed if one.matter in bad)
    return DogStatus(
        dog=dog.name,
        last=None if last is None else last.day,
        days_since=since,
        today=bool(here),
        sessions=len(session_digests),
        first_call=first_call(reps),
        story=story(session_digests, criteria, today),
        due=since is None or since >= criteria.due_days,
        stuck=stuck,
        stress=stress,
        see=(
            *open_[:SHOWN_MATTERS],
            *closed,
            *_beside((*open_, *closed), stress),
            *([stuck] if stuck else []),
        ),
        more=len(more),
        more_stop=any(one.matter is not None and one.matter.is_stop for one in more),
        still=still.intersection(one.session for one in session_digests),
        plan=plan_in_short(advice),
    )


def plan_in_short(one: Plan) -> Plan:
    """The plan with the first `SHOWN_MATTERS` of its stops, other matters and closed ones."""
    stops, others, closed = (some[:SHOWN_MATTERS] for some in (one.stops, one.matters, one.closed))
    return one.model_copy(update={"stops": stops, "matters": others, "closed": closed})


def _not_worked_out(
    dog: Dog, session_digests: Sequence[SessionDigest], error: Exception
) -> DogStatus:
    what = f"{type(error).__name__}: {error}".rstrip(": ")
    return DogStatus(
        dog=dog.name,
        last=None,
        days_since=None,
        today=False,
        sessions=len(session_digests),
        first_call=Unknown(code="not worked out"),
        story=None,
        due=False,
        stuck=None,
        stress=(),
        see=(Reason(code="not worked out", names=(what,)),),
        plan=None,
    )


def _stress(session_digests: Sequence[SessionDigest]) -> tuple[Reason, ...]:
    found = []
    for session_digest in session_digests:
        reps = reps_that([session_digest], lambda rep: rep.stress and rep.state != "void")
        if reps:
            signs = dict.fromkeys(
                s.name for one in reps for s in one.rep.signs if s.class_ in ("strong", "weak")
            )
            found.append(
                Reason(code="stress", day=session_digest.day, names=tuple(signs), reps=ids(reps))
            )
    return tuple(found)


def _beside(open_: Sequence[Reason], stress: Sequence[Reason]) -> tuple[Reason, ...]:
    """The stress that is told beside the `open_` matters: the signs that none of that day names."""
    named = {(one.day, name) for one in open_ if one.matter for name in one.matter.matter.names}
    left = [
        one.model_copy(
            update={"names": tuple(name for name in one.names if (one.day, name) not in named)}
        )
        for one in stress
    ]
    return tuple(one for one in left if one.names)


def _stuck(
    scope: SessionScope, criteria: Criteria, at: str | None, steps: Sequence[ReadinessStep]
) -> Reason | None:
    """So many sessions at one distraction, and still not ready for the next."""
    if at is None:
        return None
    run: list[RepInSession] = []
    sessions = 0
    for session_digest in reversed(scope.session_digests):
        reps = reps_that([session_digest], _is_recall)
        if not reps:
            continue
        if all(one.rep.distraction != at for one in reps):
            break
        run = [*reps, *run]
        sessions += 1
    if sessions < criteria.stuck_sessions:
        return None
    step = steps[0]
    if step.verdict == "ready" or not step.next:
        return None
    return Reason(code="stuck", count=sessions, at=at, step=step, reps=ids(run))


def _is_recall(rep: RepDigest) -> bool:
    return has_call_and_outcome(rep, "recall")


# --- handlers and litters --------------------------------------------------------------


def _handlers(dog: str, scope: SessionScope, criteria: Criteria) -> list[HandlerLevel]:
    """Dogs that more than one handler worked with the button in the same drill and mode."""
    groups: dict[tuple[str | None, str], dict[str, list[RepInSession]]] = {}

    def counts(rep: RepDigest) -> bool:
        used = rep.mode in STIMULATION and bool(rep.levels) and rep.drill != FIND_LEVEL
        return used and rep.state == "sure" and bool(rep.handler)

    for one in reps_that(scope.session_digests[-criteria.look_back :], counts):
        rep = one.rep
        if rep.handler:
            groups.setdefault((rep.drill, rep.mode), {}).setdefault(rep.handler, []).append(one)
    found = []
    for (drill, mode), by_handler in groups.items():
        if len(by_handler) < 2:
            continue
        for handler, reps in by_handler.items():
            levels = [max(one.rep.levels) for one in reps if one.rep.came]
            found.append(
                HandlerLevel(
                    dog=dog,
                    drill=drill,
                    mode=mode,
                    handler=handler,
                    answered=float(median(levels)) if levels else None,
                    of=len(reps),
                    strong=sum(one.rep.strong for one in reps),
                    reps=ids(reps),
                )
            )
    return found


def _litters(
    dogs: Sequence[Dog], lines: Mapping[str, DogStatus], criteria: Criteria
) -> tuple[Litter, ...]:
    by_name: dict[str, list[str]] = {}
    for dog in dogs:
        if dog.litter:
            by_name.setdefault(dog.litter, []).append(dog.name)
    found = []
    for name, pups in sorted(by_name.items()):
        shares = sorted(
            line.first_call.share
            for pup in pups
            if (line := lines.get(pup)) and isinstance(line.first_call, Proportion)
        )
        enough = len(shares) >= criteria.litter_pups
        found.append(
            Litter(
                name=name,
                pups=tuple(pups),
                of=len(shares),
                needed=criteria.litter_pups,
                first_call=(shares[0], float(median(shares)), shares[-1]) if enough else None,
            )
        )
    return tuple(found)
