"""Short questions that the rule tests put to a session."""

from __future__ import annotations

from voicelog.model import Finding
from voicelog.safety import History, Settings, check

from .build import Field

KNOWN = History(
    sessions=9,
    stimulated=9,
    vibrated=True,
    answered={"": 3, "none": 3, "low": 3},
    transmitter=Field().dog.transmitter,
)
"""A dog with some sessions behind it and nothing against it."""


def found(
    field: Field, rule: str, history: History = KNOWN, settings: Settings | None = None
) -> list[Finding]:
    """The findings of one rule in a session in which nothing was doubted."""
    findings = check(field.session(), history, settings or Settings())
    return [finding for finding in findings if finding.rule == rule]


def the(field: Field, rule: str, history: History = KNOWN) -> Finding:
    """The one finding of a rule."""
    (finding,) = found(field, rule, history)
    return finding
