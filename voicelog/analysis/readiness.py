"""Is the dog ready for the next step: criteria with their numbers, none of which needs a press.

A dog that never meets the button can meet every criterion here, and a criterion is met by unaided
reps alone (`unaided.py`): a rep with a stimulus of any kind is read, and is not met. So is what
is doubtful, or of which the button or the outcome was not said; a doubtful strong sign counts
against. No step is due while a stop stands.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise
from typing import Literal, NamedTuple

from voicelog.analysis.criteria import Criteria
from voicelog.analysis.measure_series import current_distraction
from voicelog.analysis.open_stops import STOP_CLOSED_BY
from voicelog.analysis.session_digest import RepDigest, SessionDigest
from voicelog.analysis.session_scope import (
    DISTRACTION_LADDER,
    RepInSession,
    SessionScope,
    day_of,
    distraction_rank,
    ids,
    last_sessions_with,
    numbered,
    told,
)
from voicelog.analysis.statistics.proportion import run_probability
from voicelog.analysis.unaided import asked_for_readiness, stimulated, unaided
from voicelog.model import FrozenModel, Stage

__all__ = ["Criterion", "ReadinessStep", "readiness"]

ReadinessVerdict = Literal["not yet", "nearly", "ready", "at the top"]

_Wanted = Callable[[RepDigest], bool]

COMMON = "common practice, no source"

LOOKS = 10
"""Sessions after each of which readiness is looked at, for the chance of luck over them."""


class Criterion(FrozenModel):
    """One thing that has to hold: what is wanted, what was found, and whether it is met."""

    name: str
    wanted: str
    found: str
    met: bool
    missing: str
    """What would have to happen; empty where it is met."""
    basis: str
    reps: tuple[str, ...]


class ReadinessStep(FrozenModel):
    """A step on a ladder. `chance` is how often a dog that comes unaided at every second call
    passes the first criterion by luck in one look; `chance_ten` how often it does in one of the
    looks after each of its first ten sessions."""

    ladder: Literal["distraction", "birds", "gun", "off the line"]
    now: str
    next: str
    verdict: ReadinessVerdict
    words: str
    criteria: tuple[Criterion, ...]
    chance: float
    chance_ten: float
    note: str


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
        return _step(
            scope, "distraction", "no distraction said", "none",
            (_not_worked(criteria, "a distraction said for it"),), chance,
            "Say the distraction ('distraction none'): without it no step can be judged.",
        )  # fmt: skip
    tested = _criteria(scope, criteria, drill, lambda rep: rep.distraction == at, f"at {at}")
    if place == len(DISTRACTION_LADDER) - 1:
        step = _step(scope, "distraction", DISTRACTION_LADDER[place], "", tested, chance, "")
        top = "The top of the ladder: nothing above it; keep it there."
        return step.model_copy(update={"verdict": "at the top", "words": top})
    return _step(
        scope,
        "distraction",
        DISTRACTION_LADDER[place],
        DISTRACTION_LADDER[place + 1],
        tested,
        chance,
        "",
    )


def _birds(
    scope: SessionScope,
    criteria: Criteria,
    drill: str | None,
    reached: Sequence[Stage],
    chance: PassProbability,
) -> ReadinessStep:
    easy = _easy_sessions(scope, lambda rep: rep.drill == "bird" or rep.source == "birds")
    note = (
        "Ladder: dead, clipped, planted, flown; one rung after two easy sessions. The log does "
        "not hear which bird it was. No button on birds until the profile says 'bird'."
    )
    if easy is None:
        tested = (
            *_criteria(
                scope, criteria, drill, lambda rep: (distraction_rank(rep.distraction) or 0) >= 2,
                "at medium distraction or above",
            ),
            _steady(scope, criteria),
        )  # fmt: skip
        return _step(scope, "birds", "no bird yet", "a dead bird", tested, chance, note)
    now = "stage reached (profile)" if "bird" in reached else "among birds"
    return _step(scope, "birds", now, "the next rung of the ladder", (easy,), chance, note)


def _gun(
    scope: SessionScope,
    criteria: Criteria,
    drill: str | None,
    reached: Sequence[Stage],
    chance: PassProbability,
) -> ReadinessStep:
    easy = _easy_sessions(scope, lambda rep: rep.drill == "gun" or rep.source == "gunfire")
    note = (
        "Ladder: a helper far off, softer to louder, nearer only after two easy sessions. A flinch "
        "ends it for the day. No button with gunfire until the profile says 'gun'."
    )
    if easy is None:
        tested = _criteria(
            scope, criteria, drill, lambda rep: (distraction_rank(rep.distraction) or 0) >= 1,
            "at low distraction or above",
        )  # fmt: skip
        return _step(
            scope, "gun", "no gunfire yet", "a soft shot, a helper far off", tested, chance, note
        )

    def shot(rep: RepDigest) -> bool:
        return rep.shot_m is not None and (rep.drill == "gun" or rep.source == "gunfire")

    last = last_sessions_with(scope.session_digests, shot, 1)
    near = [rep.shot_m for one in last for rep in one.tries if shot(rep)]
    now = f"last shot at {near[-1] or 0:.0f} m" if near else "with gunfire, distance not said"
    if "gun" in reached:
        now += ", stage reached (profile)"
    return _step(scope, "gun", now, "nearer, or louder, never both", (easy,), chance, note)


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

    tested = _criteria(
        scope, criteria, drill, wanted, f"line trailing, at {at or 'no distraction said'}"
    )
    last = _last(scope, criteria, drill, wanted)
    went = [
        one
        for one in told(last)
        if one.rep.heard != "void" and one.rep.outcome in ("helped", "left", "broke")
    ]
    alone = Criterion(
        name="by itself",
        wanted="no line help, no peeling off and no breaking in those sessions",
        found=f"{len(went)} of those" if last else "no such session",
        met=bool(last) and not went,
        missing="" if last and not went else "sessions in which the dog needs no line and stays",
        basis=COMMON,
        reps=ids(went),
    )
    now = "off the line (profile)" if "off line" in reached else _line_now(scope)
    return _step(
        scope, "off the line", now, "the same work without a line", (*tested, alone), chance, ""
    )


def _line_now(scope: SessionScope) -> str:
    last = last_sessions_with(scope.session_digests, lambda rep: rep.line is not None, 1)
    said = [rep.line for one in last for rep in one.tries if rep.line]
    return f"line {said[-1]}" if said else "line not said"


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


def _met(rep: RepDigest) -> bool:
    """Whether a rep passes: surely, and unaided."""
    return rep.heard == "sure" and unaided(rep)


def _criteria(
    scope: SessionScope, criteria: Criteria, drill: str | None, wanted: _Wanted, where: str
) -> tuple[Criterion, ...]:
    last = _last(scope, criteria, drill, wanted)
    counted = [
        [
            one
            for one in told([session_digest])
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
    where: str,
) -> Criterion:
    passes, of, sessions = criteria.ready_passes, criteria.ready_of, criteria.ready_sessions
    found = [(sum(_met(one.rep) for one in reps), len(reps)) for reps in counted]
    good = [came >= passes and many >= of for came, many in found]
    met = len(good) == sessions and all(good)
    if met:
        missing = ""
    elif not found:
        missing = f"{numbered(sessions, 'session')} of {of} calls {where}"
    else:
        run = 0
        for one in reversed(good):
            if not one:
                break
            run += 1
        missing = (
            f"{numbered(sessions - run, 'more session')} in a row with {passes} of {of} at the "
            f"first call, unaided, {where}"
        )
    return Criterion(
        name="first call",
        wanted=f"{passes} of the last {of} at the first call, unaided, {where}, in each of "
        f"{numbered(sessions, 'session')} in a row",
        found="; ".join(
            _found(came, reps, session_digest)
            for (came, _), reps, session_digest in zip(found, counted, last, strict=True)
        )
        or f"no call {where}",
        met=met,
        missing=missing,
        basis=f"{COMMON}; 80% is the usual mark, and 90 to 100% kept better (Longino et al., "
        "Behav Anal Pract 15:397-405, 2022, human learners)",
        reps=ids(one for reps in counted for one in reps),
    )


def _found(met: int, reps: Sequence[RepInSession], session_digest: SessionDigest) -> str:
    """What a session came to: how many were met, and why the others that came were not."""
    came = [one.rep for one in reps if one.rep.came and not _met(one.rep)]
    reasons = {
        "to check": [rep for rep in came if rep.heard != "sure"],
        "with a stimulus": [rep for rep in came if rep.heard == "sure" and stimulated(rep)],
        "button not said": [
            rep for rep in came if rep.heard == "sure" and not stimulated(rep)
            and rep.mode == "unknown"
        ],
    }  # fmt: skip
    beside = ", ".join(f"{len(some)} {why}" for why, some in reasons.items() if some)
    words = f"{met} of {len(reps)} on {day_of(session_digest)}"
    return f"{words} (beside them came: {beside})" if beside else words


def _no_strong(scope: SessionScope, criteria: Criteria, last: Sequence[SessionDigest]) -> Criterion:
    since = scope.session_digests[scope.session_digests.index(last[0]) :] if last else ()
    strong = [one for one in told(since) if one.rep.strong and one.rep.heard != "void"]
    met = len(last) == criteria.ready_sessions and not strong
    signs = {s.name for one in strong for s in one.rep.signs if s.class_ == "strong"}
    return Criterion(
        name="no strong sign",
        wanted="no strong sign in those sessions, nor since",
        found=f"{numbered(len(strong), 'rep')} with one ({', '.join(sorted(signs))})"
        if strong
        else ("none" if last else "no such session"),
        met=met,
        missing="" if met or not last else "sessions without a strong sign",
        basis=COMMON,
        reps=ids(strong),
    )


def _little_button(criteria: Criteria, counted: Sequence[list[RepInSession]]) -> Criterion:
    used = [sum(stimulated(one.rep) for one in reps) for reps in counted]
    unsaid = [sum(one.rep.mode == "unknown" for one in reps) for reps in counted]
    most = criteria.ready_button
    enough = len(counted) == criteria.ready_sessions
    few = all(count + unknown <= most for count, unknown in zip(used, unsaid, strict=True))
    rising = any(later > earlier for earlier, later in pairwise(used))
    met = enough and few and not rising
    found = ", then ".join(
        f"{count} of {len(reps)}{f' (and {unknown} not said)' if unknown else ''}"
        for count, unknown, reps in zip(used, unsaid, counted, strict=True)
    )
    missing = "sessions with less of the button" if not few or rising else "more such sessions"
    if enough and not few and all(count <= most for count in used):
        missing = "say 'no button' where none was used: what is not said is not counted as none"
    return Criterion(
        name="little button",
        wanted=f"the button in at most {most} of those {criteria.ready_of}, and not rising",
        found=(f"{found}, rising" if rising else found) or "no such session",
        met=met,
        missing="" if met or not counted else missing,
        basis=COMMON,
        reps=ids(one for reps in counted for one in reps if stimulated(one.rep)),
    )


def _steady(scope: SessionScope, criteria: Criteria) -> Criterion:
    tested = _criteria(scope, criteria, "steady", lambda rep: True, "in drill steady")[0]
    return tested.model_copy(update={"name": "steady"})


def _easy_sessions(scope: SessionScope, wanted: _Wanted) -> Criterion | None:
    """Two easy sessions in a row: no stress, and no more than one rep each that was not met. None
    where the dog was never among it."""
    have = last_sessions_with(scope.session_digests, wanted, 2)
    if not have:
        return None
    run = 0
    for session_digest in reversed(have):
        live = [rep for rep in session_digest.tries if rep.heard != "void" and wanted(rep)]
        met = sum(_met_among(rep) for rep in live)
        if not met or len(live) - met > 1 or any(rep.stress or rep.strong for rep in live):
            break
        run += 1
    reps = [one for one in told(have[-2:]) if wanted(one.rep) and one.rep.heard != "void"]
    return Criterion(
        name="easy sessions",
        wanted="two sessions in a row without stress, every rep but one at most met unaided",
        found=f"{run} in a row, the last on {day_of(have[-1])}",
        met=run >= 2,
        missing="" if run >= 2 else f"{numbered(2 - run, 'more easy session')}",
        basis=COMMON,
        reps=ids(reps),
    )


def _stop_stands(scope: SessionScope) -> Criterion:
    days = ", ".join(map(day_of, scope.stops))
    return Criterion(
        name="no stop stands",
        wanted=f"after a stop, {STOP_CLOSED_BY}",
        found=f"a stop stands ({days})",
        met=False,
        missing=STOP_CLOSED_BY,
        basis=COMMON,
        reps=ids(one for one in told(scope.stops) if one.rep.strong),
    )


def _met_among(rep: RepDigest) -> bool:
    """Whether a rep among birds or gunfire passes: where none was called, the dog stays."""
    return _met(rep) or (
        rep.heard == "sure" and rep.cues == 0 and rep.came and rep.mode == "none" and not rep.levels
    )


def _not_worked(criteria: Criteria, what: str) -> Criterion:
    return Criterion(
        name="first call",
        wanted=f"{criteria.ready_passes} of {criteria.ready_of} at the first call, unaided",
        found=f"no recall with {what}",
        met=False,
        missing=f"{criteria.ready_of} recalls with {what}",
        basis=COMMON,
        reps=(),
    )


def _step(
    scope: SessionScope,
    ladder: Literal["distraction", "birds", "gun", "off the line"],
    now: str,
    following: str,
    tested: tuple[Criterion, ...],
    chance: PassProbability,
    note: str,
) -> ReadinessStep:
    if scope.stops:
        tested = (*tested, _stop_stands(scope))
    unmet = [one for one in tested if not one.met]
    verdict: ReadinessVerdict = (
        "ready" if not unmet else "nearly" if len(unmet) == 1 < len(tested) else "not yet"
    )
    missing = "; ".join(dict.fromkeys(one.missing for one in unmet if one.missing))
    words = {
        "ready": f"Ready for {following}.",
        "nearly": f"Nearly ready for {following}; missing: {missing}.",
        "not yet": f"Not yet ready for {following}; missing: {missing}.",
    }[verdict]
    return ReadinessStep(
        ladder=ladder,
        now=now,
        next=following,
        verdict=verdict,
        words=words,
        criteria=tested,
        chance=chance.once,
        chance_ten=chance.ten,
        note=note,
    )
