"""Which one thing a finding is about: this press, this rep, this sign.

A warning belongs to an incident, and the next incident warns again. Papers tell some rules
once a session; in the field each press that breaks one of those that bear on every press is
an incident of its own, so those are asked about every press here.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

from voicelog.model import Entry, Finding, Session
from voicelog.model.grown import same_until
from voicelog.safety.check import RULES, rules_with
from voicelog.safety.history import History
from voicelog.safety.rule_walk import RuleWalk
from voicelog.safety.settings import Settings

__all__ = ["EachPressWalk", "Incident", "incident"]

_EACH_PRESS = tuple(replace(rule, once=False) for rule in RULES if "each press" in rule.live)
_ONCE = frozenset(rule.name for rule in RULES if rule.once) - rules_with("each press")
_LASTING = rules_with("lasting")
NEWEST = 40
"""Findings of each rule that are handed on: what there is to say of older presses was said, or is
too late to be said. One that was left out for that stays out, whatever is struck after it, so that
no old stop is taken for a new one."""


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


class EachPressWalk:
    """Every press that breaks a rule which papers tell once, of one session after another."""

    def __init__(self, settings: Settings) -> None:
        self._settings = settings
        self._walks: dict[str, RuleWalk] = {}
        self._found: dict[str, tuple[Session, tuple[Finding, ...]]] = {}
        self._entries: Sequence[Entry] = ()
        self._on_doubt: dict[int, tuple[Finding, Finding]] = {}
        self._doubtful: set[str] = set()
        self._left_out: set[Incident] = set()
        self._older: dict[tuple[str, str], tuple[Finding, ...]] = {}
        self._of_rule: dict[tuple[str, str], tuple[Mapping[str, Finding], tuple[Finding, ...]]] = {}

    def findings(
        self,
        sessions: Sequence[Session],
        entries: Sequence[Entry],
        history: Callable[[Session], History],
    ) -> tuple[Finding, ...]:
        """The newest that there are by now, on doubt where their evidence is. `sessions` are all of
        a recording, `entries` theirs; `history` gives what was known of a session's dog before
        it."""
        found: dict[str, tuple[Session, tuple[Finding, ...]]] = {}
        doubtful = self._doubtful_in(entries)
        for session in sessions:
            known = self._found.get(session.id)
            if known is None or known[0] is not session:
                known = session, self._of(session, entries, doubtful, history(session))
            found[session.id] = known
        self._found = found
        return tuple(one for _, some in found.values() for one in some)

    def _doubtful_in(self, entries: Sequence[Entry]) -> set[str]:
        same = same_until(entries, self._entries)
        for entry in self._entries[same:]:
            self._doubtful.discard(entry.id)
            self._of_rule.clear()
        self._doubtful |= {one.id for one in entries[same:] if one.status == "doubtful"}
        self._entries = entries
        return self._doubtful

    def _of(
        self, session: Session, entries: Sequence[Entry], doubtful: set[str], history: History
    ) -> tuple[Finding, ...]:
        walk = self._walks.setdefault(session.id, RuleWalk(_EACH_PRESS))
        watched = walk.look(session, history, self._settings, doubtful, of=(entries,))
        found: list[Finding] = []
        for rule in _EACH_PRESS:
            of_rule = watched.found.get(rule.name)
            if not of_rule:
                continue
            known = self._of_rule.get((session.id, rule.name))
            if known is None or known[0] is not of_rule:
                newest = self._newest((session.id, rule.name), tuple(of_rule.values()))
                told = tuple([self._told(finding, doubtful) for finding in newest])
                known = self._of_rule[session.id, rule.name] = of_rule, told
            found += known[1]
        return tuple(found)

    def _told(self, finding: Finding, doubtful: set[str]) -> Finding:
        """The finding, on doubt where its evidence is; the same one each time."""
        if doubtful.isdisjoint(finding.evidence):
            return finding
        known = self._on_doubt.get(id(finding))
        if known is None or known[0] is not finding:
            known = self._on_doubt[id(finding)] = (
                finding,
                finding.model_copy(update={"on_doubt": True}),
            )
        return known[1]

    def _newest(self, of: tuple[str, str], findings: tuple[Finding, ...]) -> list[Finding]:
        """The newest `of` a session and rule, none of which was older than those before."""
        older = findings[:-NEWEST]
        counted = same_until(older, self._older.get(of, ()))
        self._left_out.update(map(incident, older[counted:]))
        self._older[of] = older
        return [one for one in findings[-NEWEST:] if incident(one) not in self._left_out]
