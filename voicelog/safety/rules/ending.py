"""How a session ends: every dog should go home having done something it knows."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from voicelog.model import Mark
from voicelog.safety.rule import RuleMatch, rule
from voicelog.safety.rule_context import RuleContext

__all__ = ["FAILED", "RULES"]

FAILED = frozenset({"ignored", "left", "broke", "helped"})
"""The outcomes in which the dog did not do it by itself."""


@dataclass(slots=True)
class _LastOutcomes:
    """The outcomes that may stand of each rep, by its number; None holds those of no rep.
    `newest`: of which rep the last one said was."""

    marks: dict[int | None, tuple[Mark, ...]] = field(default_factory=dict)
    newest: int | None = None


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
    a growl, snap or bite, even a doubtful one.

    Which rep is the last, their order tells, whenever its end was said. Where nobody said how the
    last ended, the last of which it was said is told, as that.
    """
    told = view.kept(_LastOutcomes)
    for mark, _, _ in view.timeline:
        if mark.kind == "outcome" and mark.name != "unknown":
            before = () if view.sure(mark) else told.marks.get(mark.rep, ())
            told.marks[mark.rep] = (*before, mark)
            told.newest = mark.rep
    for mark, is_last in _of_last_reps(view, told):
        if mark.name in FAILED:
            what = "The session ended on a failure"
            yield RuleMatch(
                mark.entry,
                (mark,),
                f"{what if is_last else _SAID}{view.where(mark)}: {mark.name}.",
                "Finish with something the dog knows, no button.",
            )


_SAID = "The last outcome that was said is a failure"


def _of_last_reps(view: RuleContext, told: _LastOutcomes) -> Iterator[tuple[Mark, bool]]:
    """The outcomes of the last rep that has any, and of those before it where it is in doubt; each
    with whether no rep came after it."""
    if told.newest is None:
        yield from ((mark, True) for mark in told.marks.get(None, ()))
        return
    is_last = True
    for rep in reversed(view.session.reps):
        marks = () if rep.void else told.marks.get(rep.number, ())
        yield from ((mark, is_last) for mark in marks)
        if any(map(view.sure, marks)):
            return
        is_last = is_last and rep.void


RULES = (ended_failed,)
