"""Is the dog ready for the next step: criteria with their numbers, none of which needs a press.

A dog that never meets the button can meet every criterion here, and a criterion is met by unaided
reps alone (`unaided.py`): a rep with a stimulus of any kind is read, and is not met. So is what
is doubtful, or of which the button or the outcome was not said; a doubtful strong sign counts
against. No step is due while a stop stands.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise, takewhile
from typing import Literal, NamedTuple

from voicelog.analysis.criteria import Criteria
from voicelog.analysis.criterion import (
    ButtonCount,
    ByItself,
    CallCount,
    Criterion,
    EasySessions,
    FirstCalls,
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
from voicelog.analysis.statistics.proportion import run_probability
from voicelog.analysis.unaided import (
    asked_for_readiness,
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

LOOKS = 10
"""Sessions after each of which readiness is looked at, for the chance of luck over them."""


class ReadinessStep(FrozenModel):
    """A step on a ladder.

    `state` is where the dog is on it. On the ladder of distractions `at` is the distraction now
    and `next` the one above ("" at the top); off the line `at` is the line last said; `shot_m` is
    how far off the last shot was (m). `chance` (0 to 1) is how often a dog that comes unaided at
    every second call passes the first criterion by luck in one look; `chance_ten` how often it
    does in one of the looks after each of its first ten sessions.
    """

    ladder: Ladder
    state: Literal["not said", "at", "not begun", "begun", "reached"]
    at: str = ""
    next: str = ""
    shot_m: float | None = None
    verdict: ReadinessVerdict
    criteria: tuple[Criterion, ...]
    chance: float
    chance_ten: float


class PassProbability(NamedTuple):
    """How often luck passes the first criterion: in one look, and within ten sessions."""

    once: float
    ten: float

    @classmethod
    def of(cls, criteria: Criteria) -> PassProbability:
        rule = criteria.ready_passes, criteria.ready_of, criteria.ready_sessions
        return cls(run_probability(*rule), run_probability(*rule, within=LOOKS))


def readiness(
    scope: SessionScope,
    criteria: Criteria,
    reached: Sequence[Stage] = (),
    drill: str | None = "recall",
) -> tuple[ReadinessStep, ...]:
    """The next step on each ladder. `reached` are the stages of the dog's profile."""
    chance = PassProbability.of(criteria)
    at = current_distraction(scope, criteria, drill)
    return (
        _distraction(scope, criteria, drill, at, chance),
        _birds(scope, criteria, drill, reached, chance),
        _gun(scope, criteria, drill, reached, chance),
        _line(scope, criteria, drill, reached, at, chance),
    )


# --- ladders ---------------------------------------------------------------------------


def _distraction(
    scope: SessionScope,
    criteria: Criteria,
    drill: str | None,
    at: str | None,
    chance: PassProbability,
) -> ReadinessStep:
    place = distraction_rank(at)
    if place is None:
        asked = FirstCalls(
            met=False,
            where=None,
            passes=criteria.ready_passes,
            of=criteria.ready_of,
            sessions=criteria.ready_sessions,
        )
        lowest = DISTRACTION_LADDER[0]
        return _step(scope, "distraction", "not said", (asked,), chance, next_=lowest)
    where = WorkedUnder(kind="distraction", distraction=at)
    tested = _criteria(scope, criteria, drill, lambda rep: rep.distraction == at, where)
    now, above = DISTRACTION_LADDER[place], DISTRACTION_LADDER[place + 1 :]
    step = _step(scope, "distraction", "at", tested, chance, at=now, next_=(*above, "")[0])
    return step if above else step.model_copy(update={"verdict": "at the top"})


def _birds(
    scope: SessionScope,
    criteria: Criteria,
    drill: str | None,
    reached: Sequence[Stage],
    chance: PassProbability,
) -> ReadinessStep:
    easy = _easy_sessions(scope, lambda rep: rep.drill == "bird" or rep.source == "birds")
    if easy is None:
        tested = (
            *_criteria(
                scope, criteria, drill, lambda rep: (distraction_rank(rep.distraction) or 0) >= 2,
                WorkedUnder(kind="distraction or above", distraction="medium"),
            ),
            _steady(scope, criteria),
        )  # fmt: skip
        return _step(scope, "birds", "not begun", tested, chance)
    return _step(scope, "birds", "reached" if "bird" in reached else "begun", (easy,), chance)


def _gun(
    scope: SessionScope,
    criteria: Criteria,
    drill: str | None,
    reached: Sequence[Stage],
    chance: PassProbability,
) -> ReadinessStep:
    easy = _easy_sessions(scope, lambda rep: rep.drill == "gun" or rep.source == "gunfire")
    if easy is None:
        tested = _criteria(
            scope, criteria, drill, lambda rep: (distraction_rank(rep.distraction) or 0) >= 1,
            WorkedUnder(kind="distraction or above", distraction="low"),
        )  # fmt: skip
        return _step(scope, "gun", "not begun", tested, chance)

    def shot(rep: RepDigest) -> bool:
        return rep.shot_m is not None and (rep.drill == "gun" or rep.source == "gunfire")

    last = last_sessions_with(scope.session_digests, shot, 1)
    near = [rep.shot_m for one in last for rep in one.reps if shot(rep)]
    state: Literal["reached", "begun"] = "reached" if "gun" in reached else "begun"
    return _step(scope, "gun", state, (easy,), chance, shot_m=near[-1] if near else None)


def _line(
    scope: SessionScope,
    criteria: Criteria,
    drill: str | None,
    reached: Sequence[Stage],
    at: str | None,
    chance: PassProbability,
) -> ReadinessStep:
    def wanted(rep: RepDigest) -> bool:
        return rep.line in ("trailing", "loose") and rep.distraction == at

    where = WorkedUnder(kind="trailing line", distraction=at)
    tested = _criteria(scope, criteria, drill, wanted, where)
    last = _last(scope, criteria, drill, wanted)
    went = [
        one
        for one in all_reps(last)
        if one.rep.state != "void" and one.rep.outcome in ("helped", "left", "broke")
    ]
    alone = ByItself(met=bool(last) and not went, reps=ids(went), seen=bool(last))
    state: Literal["reached", "begun"] = "reached" if "off line" in reached else "begun"
    return _step(scope, "off the line", state, (*tested, alone), chance, at=_line_last_said(scope))


def _line_last_said(scope: SessionScope) -> str:
    last = last_sessions_with(scope.session_digests, lambda rep: rep.line is not None, 1)
    return next((rep.line for one in last for rep in reversed(one.reps) if rep.line), "")


# --- criteria --------------------------------------------------------------------------


def _last(
    scope: SessionScope, criteria: Criteria, drill: str | None, wanted: _Wanted
) -> tuple[SessionDigest, ...]:
    """The last sessions that readiness is read from, newest last."""
    return last_sessions_with(
        scope.session_digests,
        lambda rep: asked_for_readiness(rep, drill) and wanted(rep),
        criteria.ready_sessions,
    )


def _criteria(
    scope: SessionScope, criteria: Criteria, drill: str | None, wanted: _Wanted, where: WorkedUnder
) -> tuple[Criterion, ...]:
    last = _last(scope, criteria, drill, wanted)
    counted = [
        [
            one
            for one in all_reps([session_digest])
            if asked_for_readiness(one.rep, drill) and wanted(one.rep)
        ][-criteria.ready_of :]
        for session_digest in last
    ]
    return (
        _calls(criteria, last, counted, where),
        _no_strong(scope, criteria, last),
        _little_button(criteria, counted),
    )


def _calls(
    criteria: Criteria,
    last: Sequence[SessionDigest],
    counted: Sequence[list[RepInSession]],
    where: WorkedUnder,
) -> FirstCalls:
    passes, of, sessions = criteria.ready_passes, criteria.ready_of, criteria.ready_sessions
    counts = tuple(map(_call_count, last, counted))
    good = [one.met >= passes and one.of >= of for one in counts]
    return FirstCalls(
        met=len(good) == sessions and all(good),
        reps=ids(one for reps in counted for one in reps),
        where=where,
        passes=passes,
        of=of,
        sessions=sessions,
        counts=counts,
        run=sum(1 for _ in takewhile(bool, reversed(good))),
    )


def _call_count(session_digest: SessionDigest, reps: Sequence[RepInSession]) -> CallCount:
    """What a session came to: how many were met, and why the others that came were not."""
    came = [one.rep for one in reps if one.rep.came and not surely_unaided(one.rep)]
    sure = [rep for rep in came if rep.state == "sure"]
    return CallCount(
        day=session_digest.day,
        met=sum(surely_unaided(one.rep) for one in reps),
        of=len(reps),
        doubtful=len(came) - len(sure),
        stimulated=sum(map(stimulated, sure)),
        unsaid=sum(not stimulated(rep) and rep.mode == "unknown" for rep in sure),
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
        most=most,
        of=criteria.ready_of,
        counts=counts,
        rising=rising,
        missing=missing,
    )


def _steady(scope: SessionScope, criteria: Criteria) -> Criterion:
    where = WorkedUnder(kind="drill steady")
    return _criteria(scope, criteria, "steady", lambda rep: True, where)[0]


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
    scope: SessionScope,
    ladder: Ladder,
    state: Literal["not said", "at", "not begun", "begun", "reached"],
    tested: tuple[Criterion, ...],
    chance: PassProbability,
    *,
    at: str = "",
    next_: str = "",
    shot_m: float | None = None,
) -> ReadinessStep:
    if scope.stops:
        tested = (*tested, _stop_stands(scope))
    unmet = [one for one in tested if not one.met]
    return ReadinessStep(
        ladder=ladder,
        state=state,
        at=at,
        next=next_,
        shot_m=shot_m,
        verdict="ready" if not unmet else "nearly" if len(unmet) == 1 < len(tested) else "not yet",
        criteria=tested,
        chance=chance.once,
        chance_ten=chance.ten,
    )
