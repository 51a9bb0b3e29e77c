"""A dog that was said to be lame or ill: no button on that day."""

from __future__ import annotations

from collections.abc import Iterator

from voicelog.model import Mark, Severity
from voicelog.safety.rule import RuleMatch, press_words, rule
from voicelog.safety.rule_context import RuleContext

__all__ = ["RULES"]

UNWELL = frozenset({"lame", "ill"})
"""Of what may be said of a dog's health, what rules the button out; common practice."""

_ADVICE = "No button today; rest. A dog that is lame or ill belongs to a veterinarian."


@rule("unwell", "stop")
def unwell(view: RuleContext) -> Iterator[RuleMatch]:
    """The dog was said to be lame or ill, and any press, of vibrate or tone too, until its health
    was said to be good."""
    lighter: Severity = "caution" if view.session.dog.has_collar else "remark"
    causes: list[Mark] = []
    for mark, _, _ in view.timeline:
        if mark.kind == "condition" and mark.name == "health":
            if mark.value in UNWELL:
                causes.append(mark)
                yield RuleMatch(
                    mark.entry,
                    (mark,),
                    f"The dog was said to be {mark.value}.",
                    _ADVICE,
                    severity=lighter,
                )
            elif view.sure(mark):
                causes = []
        elif mark.kind == "press" and causes:
            yield RuleMatch(
                mark.entry,
                (causes[-1], mark),
                f"{press_words(mark)}{view.where(mark)} on a dog that was said to be "
                f"{causes[-1].value}.",
                _ADVICE,
            )


RULES = (unwell,)
