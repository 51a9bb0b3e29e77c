"""Which one thing a finding is about: this press, this rep, this sign.

A warning belongs to an incident, and the next incident warns again. Papers tell some rules
once a session; in the field each press that breaks one of those that bear on every press is
an incident of its own, so those are asked about every press here.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import replace
from typing import NamedTuple

from voicelog.model import Finding, Session
from voicelog.safety.check import RULES, rules_with
from voicelog.safety.history import History
from voicelog.safety.rule_walk import RuleWalk
from voicelog.safety.settings import Settings

__all__ = ["Incident", "each_press", "incident"]

_EACH_PRESS = tuple(replace(rule, once=False) for rule in RULES if "each press" in rule.live)
_ONCE = frozenset(rule.name for rule in RULES if rule.once) - rules_with("each press")
_LASTING = rules_with("lasting")


class Incident(NamedTuple):
    """One thing that a rule saw. `entry` is empty where the session itself is the incident."""

    session: str
    rule: str
    entry: str = ""


def incident(finding: Finding) -> Incident:
    """What a finding is about."""
    if finding.rule in _ONCE or not finding.evidence:
        return Incident(finding.session, finding.rule)
    place = 0 if finding.rule in _LASTING else -1
    return Incident(finding.session, finding.rule, finding.evidence[place])


def each_press(
    session: Session, history: History, settings: Settings, doubtful: Collection[str]
) -> Iterator[Finding]:
    """Every press that breaks a rule which papers tell once; on doubt where its evidence is."""
    watched = RuleWalk(_EACH_PRESS).look(session, history, settings, doubtful)
    for found in watched.found.values():
        for finding in found.values():
            unsure = not set(doubtful).isdisjoint(finding.evidence)
            yield finding.model_copy(update={"on_doubt": unsure})
