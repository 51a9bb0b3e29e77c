"""What became of a session's findings, incident by incident: other words make no other incident.

A correction of a level words most findings of its rep anew. What is still there is never called
gone: a finding before and one after are one where they are of one rule and rest on the same note,
or where their rule tells one thing of a session.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from datetime import datetime
from typing import Literal, NamedTuple

from voicelog.model import Finding
from voicelog.safety.check import rule_named

__all__ = ["ChangeCode", "FindingChange", "SessionChange", "compared"]

ChangeCode = Literal["new", "graver", "sure", "reads", "perhaps", "lesser", "void", "gone"]
"""New, or back from void; of more weight; no longer in doubt; in other words; now in doubt; of less
weight; void; gone. In this order they are told: what is worse first."""

_ORDER: tuple[ChangeCode, ...] = (
    *("new", "graver", "sure", "reads", "perhaps", "lesser", "void", "gone"),
)
_WEIGHT = {"stop": 0, "caution": 1, "remark": 2}


class FindingChange(NamedTuple):
    """What became of one: `before` is None where it is new, `after` where it is gone."""

    code: ChangeCode
    before: Finding | None
    after: Finding | None

    @property
    def finding(self) -> Finding:
        """As it is now, or was."""
        found = self.after or self.before
        assert found is not None  # one of them is there
        return found


class SessionChange(NamedTuple):
    """The findings of one session before and after something was done to the log; `began` is wall
    time, None where it is not known."""

    session: str
    dog: str
    began: datetime | None
    before: tuple[Finding, ...]
    after: tuple[Finding, ...]


def compared(before: Sequence[Finding], after: Sequence[Finding]) -> tuple[FindingChange, ...]:
    """What became of the findings of one session, the worst first; nothing of those that are as
    they were."""
    left, new = list(before), list(after)
    pairs: list[tuple[Finding, Finding]] = []
    for alike in _ALIKE:
        _pair(left, new, alike, pairs)
    found = [FindingChange("gone", one, None) for one in left]
    found += [FindingChange("void" if one.struck else "new", None, one) for one in new]
    found += [
        FindingChange(code, was, now)
        for was, now in pairs
        if (code := _became(was, now)) is not None
    ]
    return tuple(
        sorted(found, key=lambda one: (_ORDER.index(one.code), _WEIGHT[one.finding.severity]))
    )


def _pair(
    left: list[Finding],
    new: list[Finding],
    alike: Callable[[Finding], Hashable | None],
    pairs: list[tuple[Finding, Finding]],
) -> None:
    """Take out of both those that are alike, each with one of the other."""
    waiting: dict[Hashable, list[Finding]] = {}
    for one in left:
        if (key := alike(one)) is not None:
            waiting.setdefault((one.rule, key), []).append(one)
    unpaired: list[Finding] = []
    for now in new:
        key = alike(now)
        some = [] if key is None else waiting.get((now.rule, key), [])
        if some:
            was = some.pop(0)
            left.remove(was)
            pairs.append((was, now))
        else:
            unpaired.append(now)
    new[:] = unpaired


_ALIKE: tuple[Callable[[Finding], Hashable | None], ...] = (
    lambda one: (one.severity, one.message, one.on_doubt, one.struck, one.evidence),
    lambda one: (one.message, one.evidence),
    lambda one: one.evidence or None,
    lambda one: one.evidence[-1:] or None,
    lambda one: one.evidence[:1] or None,
    lambda one: one.message,
    lambda one: one.reps or None,
    lambda one: True if rule_named(one.rule).once else None,
)
"""When two findings of a rule are of one incident: what is alike most is paired first."""


def _became(was: Finding, now: Finding) -> ChangeCode | None:
    if now.struck != was.struck:
        return "void" if now.struck else "new"
    if _WEIGHT[now.severity] != _WEIGHT[was.severity]:
        return "graver" if _WEIGHT[now.severity] < _WEIGHT[was.severity] else "lesser"
    if now.on_doubt != was.on_doubt:
        return "perhaps" if now.on_doubt else "sure"
    return "reads" if now.message != was.message else None
