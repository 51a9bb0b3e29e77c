"""Run every rule over a session, and join what the worlds of a session show.

One session is assembled three times: without its doubtful entries (sure), with them
(believed), and with its struck entries still standing. A finding that the sure world shows
is sure; one that only the believed world shows rests on doubt; one that only the standing
world shows was struck. None of them hides another.
"""

from __future__ import annotations

from collections.abc import Container, Mapping, Sequence

from voicelog.model import Finding, Session
from voicelog.model.aggression import AGGRESSION_SIGNS
from voicelog.safety.advice import is_session_over_advice
from voicelog.safety.history import History
from voicelog.safety.rule import LiveManner, Rule
from voicelog.safety.rule_context import MarkKey, RuleContext, mark_key
from voicelog.safety.rules import (
    across_sessions,
    contingency,
    ending,
    fit,
    health,
    heat,
    level,
    limits,
    press,
    rising_levels,
    skin,
    stage,
    start,
    stress,
    vibrate,
    weak_signs,
)
from voicelog.safety.settings import Settings

__all__ = ["RULES", "check", "findings", "rule_named", "rules_with"]

RULES: tuple[Rule, ...] = (
    *stress.RULES,
    *weak_signs.RULES,
    *skin.RULES,
    *stage.RULES,
    *level.RULES,
    *start.RULES,
    *fit.RULES,
    *press.RULES,
    *contingency.RULES,
    *rising_levels.RULES,
    *vibrate.RULES,
    *limits.RULES,
    *health.RULES,
    *heat.RULES,
    *across_sessions.RULES,
    *ending.RULES,
)
"""Every rule, in the order in which findings of one severity are listed."""

_NOBODY: frozenset[str] = frozenset()
_ORDER = {"stop": 0, "caution": 1, "remark": 2}

Seen = dict[tuple[str, str], Finding]


def rules_with(manner: LiveManner) -> frozenset[str]:
    """The names of the rules that a live session treats in that manner."""
    return frozenset(rule.name for rule in RULES if manner in rule.live)


def check(session: Session, history: History, settings: Settings) -> tuple[Finding, ...]:
    """The findings of one session, stops first; pure, and the same at every call."""
    return _sorted(_see(session, history, settings))


def findings(
    sure: Sequence[Session],
    believed: Session,
    standing: Sequence[Session],
    history: History,
    settings: Settings,
) -> tuple[Finding, ...]:
    """The findings of a session with doubtful or struck entries, stops first.

    `sure` and `standing` are the sessions of those worlds that overlap this one: one each as
    a rule, none or more where a doubtful or struck entry began or ended a session. Rep
    numbers are those of `believed`, and a struck rep keeps its own.
    """
    numbers = {mark_key(mark): mark.rep for mark in believed.marks}
    entries = set(believed.entries)
    here = {mark.entry for mark in believed.marks}
    doubtful = here - {mark.entry for world in sure for mark in world.marks}
    seen: Seen = {}
    for world in sure:
        for key, finding in _see(world, history, settings, numbers=numbers).items():
            if entries.issuperset(finding.evidence[-1:]):
                seen.setdefault(key, finding.model_copy(update={"session": believed.id}))
    if not any(world is believed for world in sure):
        for key, finding in _see(believed, history, settings, doubtful).items():
            known = seen.setdefault(key, finding.model_copy(update={"on_doubt": True}))
            if is_session_over_advice(finding.advice):
                seen[key] = known.model_copy(update={"advice": finding.advice})
    for world in standing:
        if world.marks == believed.marks:
            continue
        struck = entries - here
        for key, finding in _see(world, history, settings, struck | doubtful, numbers).items():
            if entries.issuperset(finding.evidence[-1:]):
                update = {"struck": True, "session": believed.id}
                seen.setdefault(key, finding.model_copy(update=update))
    if any(mark.kind == "sign" and mark.name in AGGRESSION_SIGNS for mark in believed.marks):
        seen.pop(("ended-failed", ""), None)
    return _sorted(seen)


def rule_named(name: str) -> Rule:
    """The rule of that name; KeyError when there is none."""
    return _BY_NAME[name]


_BY_NAME = {rule.name: rule for rule in RULES}


def _see(
    session: Session,
    history: History,
    settings: Settings,
    doubtful: Container[str] = _NOBODY,
    numbers: Mapping[MarkKey, int | None] | None = None,
) -> Seen:
    view = RuleContext(session, history, settings.for_dog(session.dog.name), doubtful, numbers)
    seen: Seen = {}
    for rule in RULES:
        for key, finding in rule.see(view):
            seen[key] = finding
    if any(
        finding.severity == "stop" and not any(entry in doubtful for entry in finding.evidence)
        for finding in seen.values()
    ):
        seen.pop(("ended-failed", ""), None)
    return seen


def _sorted(seen: Seen) -> tuple[Finding, ...]:
    return tuple(sorted(seen.values(), key=lambda finding: _ORDER[finding.severity]))
