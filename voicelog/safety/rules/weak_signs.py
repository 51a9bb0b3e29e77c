"""Weak signs of stress: each may be nothing, many are something.

Panting after a retrieve or in heat, and a lip lick after food, say nothing of stress and are
not counted.
"""

from __future__ import annotations

from collections.abc import Iterator

from voicelog.model import Mark
from voicelog.safety.rule import RuleMatch, rule
from voicelog.safety.rule_context import RuleContext
from voicelog.safety.rules.heat import bands_c, celsius

__all__ = ["RULES"]

PANTING_S = 180.0
"""How long after a retrieve panting is exercise; common practice."""
FOOD_S = 30.0
"""How long after food a lip lick is food; common practice."""

WEAK = (
    "single signs are ambiguous, combinations and rising frequency matter (Bristol Veterinary "
    "School, Interpreting the behavioural signs); the numbers are common practice"
)


@rule("stress-weak", "caution", "weak_signs", "weak_reps", "weak_window", basis=WEAK)
def stress_weak(view: RuleContext) -> Iterator[RuleMatch]:
    """Two different weak signs in one rep, or weak signs in three of ten reps."""
    thresholds = view.thresholds
    in_rep: dict[int, dict[str, Mark]] = {}
    for mark in _counted(view):
        if mark.rep is None:
            continue
        signs = in_rep.setdefault(mark.rep, {})
        is_first = not signs
        signs.setdefault(mark.name, mark)
        if len(signs) >= thresholds.weak_signs and signs[mark.name] is mark:
            yield RuleMatch(
                mark.entry,
                tuple(signs.values()),
                f"{len(signs)} weak signs{view.where(mark)}: {', '.join(signs)}.",
                "Make it easier, give the dog a break, and go on without the button.",
            )
        if not is_first:
            continue
        now = _sure_reps(view, mark.rep)
        recent = [
            next(iter(signs.values()))
            for rep, signs in in_rep.items()
            if now - _sure_reps(view, rep) < thresholds.weak_window
        ]
        if len(recent) >= thresholds.weak_reps:
            yield RuleMatch(
                f"{mark.entry}+",
                tuple(recent),
                f"Weak signs in {len(recent)} of the last {thresholds.weak_window} reps"
                f"{view.where(mark)}.",
                "End here on something the dog knows, and make the next session easier.",
            )


def _counted(view: RuleContext) -> Iterator[Mark]:
    """The weak signs that food, exercise and heat do not explain."""
    fed_s = retrieved_s = float("-inf")
    is_hot = any(_is_hot(view, mark) for mark in view.carried if mark.name == "temperature")
    for mark, _, _ in view.timeline:
        if mark.kind == "reward" and view.sure(mark):
            if mark.name == "treat":
                fed_s = mark.at_s
            elif mark.name == "retrieve":
                retrieved_s = mark.at_s
        elif mark.kind == "condition" and mark.name == "temperature":
            is_hot = _is_hot(view, mark) and view.sure(mark)
        elif mark.kind == "sign" and mark.value == "weak":
            worked = is_hot or mark.at_s - retrieved_s <= PANTING_S
            ate = mark.at_s - fed_s <= FOOD_S
            if not (mark.name == "panting" and worked) and not (mark.name == "lip lick" and ate):
                yield mark


def _is_hot(view: RuleContext, mark: Mark) -> bool:
    return celsius(view, mark) >= bands_c(view)[0]


def _sure_reps(view: RuleContext, rep: int) -> int:
    """How many reps without doubt there are up to this one; doubtful ones pass no time."""
    return sum(not one.doubtful for one in view.session.reps[:rep])


RULES = (stress_weak,)
