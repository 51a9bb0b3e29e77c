"""Is the dog ready for the next step: criteria with their numbers, none of which needs a press.

A dog that never meets the button can meet every criterion here, and a criterion is met by unaided
reps alone (`unaided.py`): a rep with a stimulus of any kind is read, and is not met. So is what
is doubtful, or of which the button or the outcome was not said; a doubtful strong sign counts
against. No step is due while a stop stands.

Two criteria count calls. The *evidence* is over sessions and over all looks: the points of
`statistics/session_evidence`, with which the chance that a dog that comes unaided at six calls
in ten is called ready after any of 20 sessions is under one in twenty, with good and bad days, also
where these come in runs. The
*last calls* are of now: a dog that was good and became bad is not ready, whatever its past. A
session is the calls of one day, so that a day taken in two says no more; it is evidence for some
weeks only, and one whose day is not known is none.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from datetime import date, timedelta
from itertools import compress, pairwise
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
from voicelog.analysis.rep_kinds import RepKind
from voicelog.analysis.session_scope import (
    RepInSession,
    SessionScope,
    distraction_rank,
    ids,
    reps_that,
    went_strong,
)
from voicelog.analysis.statistics.session_evidence import (
    FULL,
    LUCK_IN_TEN,
    LUCK_IN_TWENTY,
    running_points,
)
from voicelog.analysis.unaided import stimulated, surely_unaided
from voicelog.model import FrozenModel, Stage
from voicelog.model.domain import DISTRACTION_LADDER

__all__ = ["Ladder", "ReadinessStep", "ReadinessVerdict", "readiness"]

Ladder = Literal["distraction", "birds", "gun", "off the line"]

ReadinessVerdict = Literal["not yet", "nearly", "ready", "at the top"]

_Wanted = Callable[[RepKind], bool]

LOOKS = 20
"""Sessions after each of which readiness is looked at, for the chance of luck over them."""


StepState = Literal["not said", "at", "not begun", "met", "begun", "reached"]
"""Where a dog is on a ladder; met: there was game where it worked, but no work was on it."""


class ReadinessStep(FrozenModel):
    """A step on a ladder.

    `state` is where the dog is on it. On the ladder of distractions `at` is the distraction now
    and `next` the one above ("" at the top: it works there, and the verdict is "at the top" only
    where all criteria are met there); off the line `at` is the line last said; `shot_m` is
    how far off the last shot was (m). `chance` (0 to 1) is how often, at most, a dog that comes
    unaided at six calls in ten, with good and bad days that come in runs, is ready by luck after
    any of its first 20 sessions, by the two criteria that count calls; `chance_ten` after any of
    its first ten. The other criteria only lower it.
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


class _Day(NamedTuple):
    """Reps of a day in order, the kind of each, and how many there are of each kind."""

    day: date
    reps: list[RepInSession]
    kinds: list[RepKind]
    counts: Counter[RepKind]

    def only(self, wanted: frozenset[RepKind]) -> _Day:
        """Those of such kinds."""
        if wanted.issuperset(self.counts):
            return self
        if wanted.isdisjoint(self.counts):
            return _Day(self.day, [], [], Counter())
        kept = [kind in wanted for kind in self.kinds]
        kinds = list(compress(self.kinds, kept))
        return _Day(self.day, list(compress(self.reps, kept)), kinds, Counter(kinds))


class _Look(NamedTuple):
    """What every ladder is read from: `recent` are the days that still say something, oldest
    first; of sessions that are too old, and of those without a day, only the kinds of their
    reps are kept, with how many sessions had them."""

    scope: SessionScope
    criteria: Criteria
    drill: str | None
    reached: Sequence[Stage]
    at: str | None
    recent: tuple[_Day, ...]
    old: Counter[frozenset[RepKind]]
    undated: Counter[frozenset[RepKind]]
    stop: NoStopStands | None


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
    recent: dict[date, _Day] = {}
    old, undated = Counter[frozenset[RepKind]](), Counter[frozenset[RepKind]]()
    for one, kinds in zip(scope.session_digests, scope.kinds, strict=True):
        day = one.day
        if day is None or since is None:
            undated[frozenset(kinds)] += 1
        elif day < since:
            old[frozenset(kinds)] += 1
        else:
            into = recent.setdefault(day, _Day(day, [], [], Counter()))
            into.reps.extend(RepInSession(one, rep) for rep in one.reps)
            into.kinds.extend(kinds)
            into.counts.update(kinds)
    by_day = tuple(recent[day] for day in sorted(recent))
    stop = _stop_stands(scope)
    look = _Look(scope, criteria, drill, reached, at, by_day, old, undated, stop)
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
    tested = _criteria(look, lambda kind: kind.distraction == look.at, where)
    now, above = DISTRACTION_LADDER[place], DISTRACTION_LADDER[place + 1 :]
    step = _step(look, "distraction", "at", tested, at=now, next_=(*above, "")[0])
    if above:
        return step
    met = step.verdict == "ready"
    return step.model_copy(update={"verdict": "at the top" if met else "not yet"})


def _birds(look: _Look) -> ReadinessStep:
    among = look.scope.kinds_that(lambda kind: kind.drill == "bird" or kind.source == "birds")
    easy = _easy_sessions(look.scope, among)
    if easy is None:
        tested = (
            *_criteria(
                look, lambda kind: (distraction_rank(kind.distraction) or 0) >= 2,
                WorkedUnder(kind="distraction or above", distraction="medium"),
            ),
            *_steady(look),
        )  # fmt: skip
        met = any(one.game for one in look.scope.session_digests)
        return _step(look, "birds", "met" if met else "not begun", tested)
    evidence = _evidence(
        look, _days(look, among), WorkedUnder(kind="among birds"), _met_among(among)
    )
    state: Literal["reached", "begun"] = "reached" if "bird" in look.reached else "begun"
    return _step(look, "birds", state, (evidence, easy))


def _gun(look: _Look) -> ReadinessStep:
    among = look.scope.kinds_that(lambda kind: kind.drill == "gun" or kind.source == "gunfire")
    easy = _easy_sessions(look.scope, among)
    if easy is None:
        tested = _criteria(
            look, lambda kind: (distraction_rank(kind.distraction) or 0) >= 1,
            WorkedUnder(kind="distraction or above", distraction="low"),
        )  # fmt: skip
        return _step(look, "gun", "not begun", tested)

    shots = (
        [one.rep.shot_m for one in look.scope.reps_in(place, among) if one.rep.shot_m is not None]
        for place in reversed(look.scope.last_with(among, len(look.scope.session_digests)))
    )
    near = next(filter(None, shots), None)
    evidence = _evidence(
        look, _days(look, among), WorkedUnder(kind="with gunfire"), _met_among(among)
    )
    state: Literal["reached", "begun"] = "reached" if "gun" in look.reached else "begun"
    return _step(look, "gun", state, (evidence, easy), shot_m=near[-1] if near else None)


def _line(look: _Look) -> ReadinessStep:
    def wanted(kind: RepKind) -> bool:
        return kind.line in ("trailing", "loose") and kind.distraction == look.at

    where = WorkedUnder(kind="trailing line", distraction=look.at)
    tested = _criteria(look, wanted, where)
    scope = look.scope
    last = scope.last_with(_read(scope, look.drill, wanted), look.criteria.ready_sessions)
    went = reps_that(
        (scope.session_digests[place] for place in last),
        lambda rep: (
            rep.state != "void" and (rep.outcome == "helped" or rep.failed in ("left", "broke"))
        ),
    )
    alone = ByItself(
        met=bool(last) and not went,
        reps=ids(went),
        sessions=look.criteria.ready_sessions,
        seen=bool(last),
    )
    state: Literal["reached", "begun"] = "reached" if "off line" in look.reached else "begun"
    at = _line_last_said(scope)
    return _step(look, "off the line", state, (*tested, alone), at=at)


def _line_last_said(scope: SessionScope) -> str:
    said = scope.kinds_that(lambda kind: kind.line is not None)
    last = [
        one.rep.line for place in scope.last_with(said, 1) for one in scope.reps_in(place, said)
    ]
    return next(filter(None, reversed(last)), "")


# --- criteria --------------------------------------------------------------------------


def _read(scope: SessionScope, drill: str | None, wanted: _Wanted) -> frozenset[RepKind]:
    """The kinds that readiness reads of a drill, among those that are wanted."""
    return frozenset(filter(wanted, scope.read_for(drill)))


def _criteria(look: _Look, wanted: _Wanted, where: WorkedUnder) -> tuple[Criterion, ...]:
    read, criteria = _read(look.scope, look.drill, wanted), look.criteria
    places = look.scope.last_with(read, criteria.ready_sessions)
    counted = [look.scope.reps_in(place, read)[-criteria.ready_of :] for place in places]
    tested = (*_calls(look, read, where), _no_strong(look.scope, criteria, places))
    if not sessions_use_collar(look.scope.session_digests):
        return tested  # of a button that is not there nothing is asked
    return (*tested, _little_button(criteria, counted))


def _calls(
    look: _Look, read: frozenset[RepKind], where: WorkedUnder
) -> tuple[Criterion, Criterion]:
    days = _days(look, read)
    unaided = frozenset(kind for kind in read if kind.surely_unaided)
    return _evidence(look, days, where, unaided), _last_calls(look, days, where)


def _steady(look: _Look) -> tuple[Criterion, Criterion]:
    steady = _read(look.scope, "steady", lambda kind: True)
    return _calls(look, steady, WorkedUnder(kind="drill steady"))


class _Days(NamedTuple):
    """The reps that are read, by day, oldest first, and how many sessions are too old or have no
    day. `reps` are all of them."""

    days: tuple[_Day, ...]
    reps: list[RepInSession]
    old: int
    undated: int


def _days(look: _Look, read: frozenset[RepKind]) -> _Days:
    live = frozenset(kind for kind in read if kind.state != "void")
    days = tuple(some for day in look.recent if (some := day.only(live)).reps) if live else ()
    return _Days(
        days,
        [one for day in days for one in day.reps],
        old=_with_any(look.old, live),
        undated=_with_any(look.undated, live),
    )


def _with_any(sessions: Counter[frozenset[RepKind]], wanted: frozenset[RepKind]) -> int:
    """How many of some sessions have a rep of such a kind; they are given by their kinds."""
    return sum(many for kinds, many in sessions.items() if not wanted.isdisjoint(kinds))


def _evidence(
    look: _Look, days: _Days, where: WorkedUnder, met: frozenset[RepKind]
) -> EnoughEvidence:
    shares = [(sum(day.counts[kind] for kind in met), len(day.reps)) for day in days.days]
    points = running_points(shares)
    counts = [_call_count(day, met, one.points) for day, one in zip(days.days, points, strict=True)]
    now = points[-1].total if points else 0.0
    fewest = look.criteria.ready_sessions
    full = [
        one.day
        for number, (one, had) in enumerate(zip(counts, points, strict=True), start=1)
        if had.total >= FULL and number >= fewest
    ]
    enough = now >= FULL and len(counts) >= fewest
    return EnoughEvidence(
        met=enough,
        reps=ids(days.reps),
        where=where,
        points=now,
        wanted=FULL,
        sessions=fewest,
        days=look.criteria.ready_days,
        counts=tuple(counts),
        full=full[-1] if full and not enough else None,
        old=days.old,
        undated=days.undated,
    )


def _last_calls(look: _Look, days: _Days, where: WorkedUnder) -> LastCalls:
    passes, of = look.criteria.ready_passes, look.criteria.ready_of
    last = days.reps[-of:]
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


def _call_count(day: _Day, met: frozenset[RepKind], points: float) -> CallCount:
    """What a day that earned such points came to: how many were met, and why others were not."""
    passed = came = doubtful = used = unsaid = unended = 0
    for kind, many in day.counts.items():
        if kind in met:
            passed += many
            continue
        came += many * kind.came_at_once
        if kind.state != "sure":
            doubtful += many
            continue
        used += many * kind.stimulated
        unsaid += many * (not kind.stimulated and kind.mode == "unknown")
        unended += many * (kind.outcome in (None, "unknown"))
    return CallCount(
        day=day.day,
        met=passed,
        of=len(day.reps),
        points=points,
        came=passed + came,
        doubtful=doubtful,
        stimulated=used,
        unsaid=unsaid,
        unended=unended,
    )


def _no_strong(scope: SessionScope, criteria: Criteria, last: Sequence[int]) -> NoStrongSign:
    since = scope.session_digests[last[0] :] if last else ()
    strong = reps_that(since, went_strong)
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


def _easy_sessions(scope: SessionScope, wanted: frozenset[RepKind]) -> EasySessions | None:
    """Two easy sessions in a row: no stress, and no more than one rep each that was not met. None
    where the dog was never among it."""
    places = scope.last_with(wanted, 2)
    if not places:
        return None
    live = frozenset(kind for kind in wanted if kind.state != "void")
    met = _met_among(live)
    run = 0
    for place in reversed(places):
        reps = [one.rep for one in scope.reps_in(place, live)]
        passed = sum(kind in met for kind in scope.kinds[place])
        if not passed or len(reps) - passed > 1 or any(rep.stress or rep.strong for rep in reps):
            break
        run += 1
    return EasySessions(
        met=run >= 2,
        reps=ids(one for place in places for one in scope.reps_in(place, live)),
        run=run,
        day=scope.session_digests[places[-1]].day,
    )


def _stop_stands(scope: SessionScope) -> NoStopStands | None:
    if not scope.stops:
        return None
    return NoStopStands(
        met=False,
        reps=tuple(rep for one in scope.stops for rep in one.matter.rep_ids),
        days=tuple(one.day for one in scope.stops),
    )


def _met_among(kinds: frozenset[RepKind]) -> frozenset[RepKind]:
    """The kinds that pass among birds or gunfire: where none was called, the dog stays."""
    return frozenset(
        kind for kind in kinds if kind.surely_unaided or (kind.state == "sure" and kind.kept_still)
    )


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
    if look.stop is not None:
        tested = (*tested, look.stop)
    unmet = [one for one in tested if not one.met]
    return ReadinessStep(
        ladder=ladder,
        state=state,
        at=at,
        next=next_,
        shot_m=shot_m,
        verdict="ready" if not unmet else "nearly" if _nearly(unmet, tested) else "not yet",
        criteria=tested,
        chance=LUCK_IN_TWENTY,
        chance_ten=LUCK_IN_TEN,
    )


def _nearly(unmet: Sequence[Criterion], tested: Sequence[Criterion]) -> bool:
    """Whether but one thing is missing; where that is evidence, half of it is there."""
    if len(unmet) != 1 or len(tested) == 1:
        return False
    (one,) = unmet
    return not isinstance(one, EnoughEvidence) or one.points >= one.wanted / 2
