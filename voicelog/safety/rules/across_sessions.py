"""What only shows across sessions: levels that creep, stress that grows, a step left out, a
button that is not needed less.

Each looks at this session beside the ones before it (`History.recent`). Before, only what was
sure counts; in this session doubtful reps count where they make it worse. They say nothing of
a session without the button.
"""

from __future__ import annotations

from collections.abc import Iterator

from voicelog.analysis.session_scope import distraction_rank
from voicelog.analysis.workload import AnsweredLevel, SessionWorkload, session_workload
from voicelog.model import Mark
from voicelog.model.dial import step_up
from voicelog.model.domain import DISTRACTION_LADDER, FIND_LEVEL, STIMULATION
from voicelog.safety.rule import RuleMatch, rule
from voicelog.safety.rule_context import RuleContext

__all__ = ["RULES"]

LEAST = 2
"""Reps of a session below which a share of them says nothing; common practice."""


@rule(
    "creeping", "caution", "creep_sessions", "creep_steps", decided="session end", anew=True,
    whole=True,
)  # fmt: skip
def creeping(view: RuleContext) -> Iterator[RuleMatch]:
    """The level answered never fell over so many sessions, and rose by a step or more."""
    if not view.press_count or view.history.transmitter != view.session.dog.transmitter:
        return
    many = view.thresholds.creep_sessions
    if len(view.history.recent) + 1 < many:
        return
    for now in _worst_answered(view):
        before = [
            one.level
            for work in view.history.recent
            for one in work.answered
            if (one.drill, one.mode, one.distraction) == (now.drill, now.mode, now.distraction)
        ]
        levels = [*before[-(many - 1) :], now.level]
        if len(levels) < many or sorted(levels) != levels:
            continue
        if levels[-1] - levels[0] < view.thresholds.creep_steps * step_up(view.unit, levels[0]):
            continue
        marks = _outcomes(view, now.drill, now.distraction, now.mode)
        if marks:
            said = ", ".join(f"{level:g}" for level in levels)
            yield RuleMatch(
                f"{now.drill}/{now.mode}/{now.distraction}",
                marks,
                f"The level answered creeps{_where(now.drill, now.distraction)}: {said} in the "
                f"last {many} sessions.",
                "Make the task easier and reward it, and work without the button; check fit, "
                "contact and coat.",
            )


@rule(
    "stress-rising", "caution", "creep_sessions", decided="session end", once=True, anew=True,
    whole=True,
)  # fmt: skip
def stress_rising(view: RuleContext) -> Iterator[RuleMatch]:
    """The share of reps with stress never fell over so many sessions, and rose."""
    if not view.press_count:
        return
    many = view.thresholds.creep_sessions
    before = view.history.recent[-(many - 1) :]
    if sum(bool(work.reps) for work in before) + 1 < many:
        return
    now = _work(view)
    recent = [*before, now]
    shares = [work.stressed / work.reps for work in recent if work.reps]
    if len(shares) < many or sorted(shares) != shares or shares[-1] <= shares[0]:
        return
    if now.stressed < LEAST:
        return
    marks = tuple(
        mark for mark in view.session.marks if mark.kind == "sign" and mark.value in _STRESS
    )
    if marks:
        counts = ", ".join(f"{work.stressed} of {work.reps}" for work in recent)
        yield RuleMatch(
            marks[-1].entry,
            marks,
            f"Stress in more and more reps: {counts} in the last {many} sessions.",
            "The next session without the button, short and easy; if it stays so, ask a "
            "veterinarian or a behaviour professional.",
        )


@rule("step-skipped", "caution", "step_reps", once=True)
def step_skipped(view: RuleContext) -> Iterator[RuleMatch]:
    """A level at a distraction when the one below it was hardly worked before.

    Silent while no distraction was ever said: then nobody knows.
    """
    worked = view.history.worked
    if not worked:
        return
    for press in view.presses:
        if view.in_search(press):
            continue
        for said in sorted(str(value) for value in press.values("distraction")):
            place = distraction_rank(said)
            if place is None or place < 2:
                continue
            below = DISTRACTION_LADDER[place - 1]
            done = sum(worked.get(name, 0) for name in DISTRACTION_LADDER[place - 1 :])
            if done < view.thresholds.step_reps:
                yield RuleMatch(
                    press.mark.entry,
                    (*press.held.get("distraction", ()), press.mark),
                    f"Level {press.level} at {said} distraction{view.where(press.mark)}; before, "
                    f"{done} reps at {below} are on record.",
                    f"Work {below} first, without the button, until it is easy.",
                )


@rule(
    "button-not-falling", "caution", "creep_sessions", "ready_button", "ready_of",
    decided="session end", anew=True, whole=True,
)  # fmt: skip
def button_not_falling(view: RuleContext) -> Iterator[RuleMatch]:
    """The button was needed often over so many sessions, and not less at their end."""
    if not view.press_count:
        return
    thresholds = view.thresholds
    many, most = thresholds.creep_sessions, thresholds.ready_button / thresholds.ready_of
    if len(view.history.recent) + 1 < many:
        return
    for now in _work(view).worked:
        if now.drill == FIND_LEVEL or now.button <= thresholds.ready_button:
            continue
        before = [
            one
            for work in view.history.recent
            for one in work.worked
            if (one.drill, one.distraction) == (now.drill, now.distraction)
        ]
        run = [*before[-(many - 1) :], now]
        shares = [one.button / one.of for one in run]
        if any(one.button < LEAST for one in run):
            continue
        if len(run) < many or min(shares) <= most or shares[-1] < shares[0]:
            continue
        marks = _outcomes(view, now.drill, now.distraction, None)
        if marks:
            counts = ", ".join(f"{one.button} of {one.of}" for one in run)
            yield RuleMatch(
                f"{now.drill}/{now.distraction}",
                marks,
                f"The button is not needed less{_where(now.drill, now.distraction)}: {counts} in "
                f"the last {many} sessions.",
                "Go back to what it does without the button, and reward that; the best rep needs "
                "none.",
            )


# --- within ----------------------------------------------------------------------------

_STRESS = ("strong", "weak")


def _work(view: RuleContext) -> SessionWorkload:
    return session_workload(view.rep_digests, doubtful=True)


def _worst_answered(view: RuleContext) -> Iterator[AnsweredLevel]:
    """Each series' level with or without the doubtful reps, whichever is higher."""
    reps = view.rep_digests
    sure = {_key(one): one for one in session_workload(reps).answered}
    for one in session_workload(reps, doubtful=True).answered:
        other = sure.get(_key(one), one)
        yield max(one, other, key=lambda answered: answered.level)


def _key(one: AnsweredLevel) -> tuple[str | None, str, str | None]:
    return one.drill, one.mode, one.distraction


def _outcomes(
    view: RuleContext, drill: str | None, distraction: str | None, mode: str | None
) -> tuple[Mark, ...]:
    """The outcomes of this session's reps with a level in one drill and distraction."""
    reps = {
        rep.number
        for rep in view.session.reps
        if (rep.drill, rep.distraction) == (drill, distraction)
        and not rep.void
        and (rep.mode == mode if mode else rep.mode in STIMULATION)
    }
    return tuple(mark for mark in view.session.marks if mark.kind == "outcome" and mark.rep in reps)


def _where(drill: str | None, distraction: str | None) -> str:
    parts = [drill or "", f"distraction {distraction}" if distraction else ""]
    said = ", ".join(filter(None, parts))
    return f" in {said}" if said else ""


RULES = (creeping, stress_rising, step_skipped, button_not_falling)
