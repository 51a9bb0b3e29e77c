"""How a session ends: every dog should go home having done something it knows."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from voicelog.model import Mark
from voicelog.safety.rule import RuleMatch, rule
from voicelog.safety.rule_context import RuleContext

__all__ = ["FAILED", "RULES"]

FAILED = frozenset({"ignored", "left", "broke", "helped"})
"""The outcomes in which the dog did not do it by itself."""


@dataclass(slots=True)
class _LastOutcome:
    marks: tuple[Mark, ...] = ()


@rule(
    "ended-failed",
    "remark",
    decided="session end",
    once=True,
    anew=True,
    live=["with the count"],
)
def ended_failed(view: RuleContext) -> Iterator[RuleMatch]:
    """The last rep failed. A stop silences it (see `check`): then nothing more is asked. So does
    a growl, snap or bite, even a doubtful one."""
    last = view.kept(_LastOutcome)
    for mark, _, _ in view.timeline:
        if mark.kind == "outcome" and mark.name != "unknown":
            last.marks = (mark,) if view.sure(mark) else (*last.marks, mark)
    for mark in last.marks:
        if mark.name in FAILED:
            yield RuleMatch(
                mark.entry,
                (mark,),
                f"The session ended on a rep that failed{view.where(mark)}: {mark.name}.",
                "Finish with something the dog knows, no button.",
            )


RULES = (ended_failed,)
