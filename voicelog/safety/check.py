"""Run every rule over a session, and join what the worlds of a session show.

One session is assembled three times: without its doubtful entries (sure), with them
(believed), and with its struck entries still standing. A finding that the sure world shows
is sure; one that only the believed world shows rests on doubt; one that only the standing
world shows was struck. None of them hides another.
"""

from __future__ import annotations

from collections.abc import Container, Mapping

from voicelog.model import Finding, Session
from voicelog.safety import ending, fit, level, skin, stress
from voicelog.safety.history import History
from voicelog.safety.rule import Rule
from voicelog.safety.settings import Settings
from voicelog.safety.view import MarkKey, View, mark_key

__all__ = ["RULES", "check", "findings", "rule_named"]

RULES: tuple[Rule, ...] = (
    *fit.RULES,
    *level.RULES,
    *stress.RULES,
    *skin.RULES,
    *ending.RULES,
)
"""Every rule of one session, in the order in which findings of one severity are listed."""

_NOBODY: frozenset[str] = frozenset()
_ORDER = {"stop": 0, "caution": 1, "remark": 2}

Seen = dict[tuple[str, str], Finding]


def check(session: Session, history: History, settings: Settings) -> tuple[Finding, ...]:
    """The findings of one session, stops first; pure, and the same at every call."""
    return _sorted(_see(session, history, settings))


def findings(
    sure: Session | None,
    believed: Session,
    standing: Session | None,
    history: History,
    settings: Settings,
) -> tuple[Finding, ...]:
    """The findings of a session with doubtful or struck entries, stops first.

    `sure` is None when the session itself rests on doubt; pass `believed` again when nothing
    is doubtful. `standing` is None when nothing was struck. Rep numbers are those of
    `believed`, and a struck rep keeps its own.
    """
    numbers = {mark_key(mark): mark.rep for mark in believed.marks}
    seen: Seen = {}
    trusted: set[str] = set()
    if sure is not None:
        trusted = {mark.entry for mark in sure.marks}
        seen = _see(sure, history, settings, numbers=numbers)
    if sure is not believed:
        doubtful = {mark.entry for mark in believed.marks} - trusted
        for key, finding in _see(believed, history, settings, doubtful).items():
            seen.setdefault(key, finding.model_copy(update={"on_doubt": True}))
    if standing is not None:
        accepted = {mark.entry for mark in believed.marks}
        struck = {mark.entry for mark in standing.marks} - accepted
        for key, finding in _see(standing, history, settings, struck, numbers).items():
            seen.setdefault(key, finding.model_copy(update={"struck": True}))
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
    view = View(session, history, settings.for_dog(session.dog.name), doubtful, numbers)
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
