"""What a safety rule is, and how what it sees becomes a finding.

A rule is a function from a `RuleContext` to sightings, declared with its name, severity, when it
can be decided, the thresholds it rests on and its basis. A sighting has an anchor, the one
thing it is about: two worlds of the same session (with and without doubtful entries) that
see the same rule at the same anchor have seen one thing, not two.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from voicelog.model import Finding, Mark, Severity
from voicelog.safety.advice import SESSION_OVER_ADVICE, is_session_over_advice
from voicelog.safety.rule_context import RuleContext

__all__ = ["COMMON", "Decided", "LiveManner", "Rule", "RuleMatch", "press_words", "rule"]

COMMON = "common practice"

Decided = Literal["at once", "session end"]
"""At once: decided by what was said so far, and nothing said later changes it."""

LiveManner = Literal[
    "each press", "lasting", "by time", "while pressed", "read back", "at once", "with the count"
]
"""How a live session treats what the rule finds. Each press: told once on papers, but in the field
every press that breaks it is an incident. Lasting: the beginning of what lasts names the incident,
since its end may still change. By time: it goes wrong by time alone, with nothing said. While
pressed: it is said while the press lasts. Read back: the level that broke it is asked about. At
once: it is said into an open rep, as a stop is. With the count: it is told when the session ends,
with how many reps there were."""


@dataclass(frozen=True, slots=True)
class RuleMatch:
    """One thing a rule saw. `marks` is the evidence in order of time; `severity` and
    `basis` only where they differ from the rule's."""

    anchor: str
    marks: tuple[Mark, ...]
    message: str
    advice: str
    severity: Severity | None = None
    basis: str | None = None


def press_words(press: Mark) -> str:
    """What was pressed, to begin a sentence: "Level 3", "Vibrate"."""
    return press.name.capitalize() if press.value is None else f"Level {press.value}"


RuleFunction = Callable[[RuleContext], Iterator[RuleMatch]]


@dataclass(frozen=True, slots=True)
class Rule:
    """A declared rule. `once`: at most one finding in a session, whatever its anchor; `stands`:
    its advice holds even when the session is over (see `voicelog.safety.advice`); `anew`: what it
    says may change with what comes later, so its findings are made anew, from what it keeps, each
    time there is more; `whole`: it looks at all of the session and keeps nothing; `live`: how a
    live session treats it, beyond what holds for every rule."""

    name: str
    severity: Severity
    look: RuleFunction
    decided: Decided
    settings: tuple[str, ...]
    basis: str
    once: bool
    stands: bool
    anew: bool = False
    whole: bool = False
    live: frozenset[LiveManner] = frozenset()

    def see(
        self, view: RuleContext, known: Mapping[str, Finding], told: dict[str, Finding]
    ) -> Mapping[str, Finding]:
        """The rule's findings, each under its anchor: those `known` of it and those of what the
        `view` has taken in last. Where there is nothing new, `known` itself. `told` has what it
        found last of this session at each anchor, and is brought up to date: what it finds again
        is the same object."""
        if self.once and known and not self.anew:
            return known
        before: Mapping[str, Finding] = {} if self.anew else known
        found: dict[str, Finding] = {}
        for sighting in self.look(view):
            anchor = "" if self.once else sighting.anchor
            if anchor not in before and anchor not in found:
                found[anchor] = told[anchor] = self._finding(view, sighting, told.get(anchor))
        if self.anew:
            return known if found == known else found
        return {**known, **found} if found else known

    def _finding(self, view: RuleContext, sighting: RuleMatch, last: Finding | None) -> Finding:
        """What is told of it: the `last` at its anchor in this session, where that is the same."""
        numbers = {view.number(mark) for mark in sighting.marks} - {None}
        now: dict[str, object] = {
            "severity": sighting.severity or self.severity,
            "reps": tuple(sorted(number for number in numbers if number is not None)),
            "evidence": tuple(dict.fromkeys(mark.entry for mark in sighting.marks if mark.entry)),
            "message": sighting.message,
            "advice": self._advice(view, sighting),
            "basis": "; ".join((sighting.basis or self.basis, *view.changed(self.settings))),
        }
        now |= {"rule": self.name, "session": view.session.id}
        if last is not None and all(getattr(last, name) == value for name, value in now.items()):
            return last
        return Finding.model_validate(now)

    def _advice(self, view: RuleContext, sighting: RuleMatch) -> str:
        stands = self.stands or is_session_over_advice(sighting.advice)
        return (
            sighting.advice if stands or not view.over(sighting.marks[-1]) else SESSION_OVER_ADVICE
        )


def rule(
    name: str,
    severity: Severity,
    *settings: str,
    basis: str = COMMON,
    decided: Decided = "at once",
    once: bool = False,
    stands: bool = False,
    anew: bool = False,
    whole: bool = False,
    live: Collection[LiveManner] = (),
) -> Callable[[RuleFunction], Rule]:
    """Declare a function as a rule resting on the named thresholds; see `Rule`."""

    def declare(look: RuleFunction) -> Rule:
        manners = frozenset(live)
        return Rule(
            name, severity, look, decided, settings, basis, once, stands, anew, whole, manners
        )

    return declare
