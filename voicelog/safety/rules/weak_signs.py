"""Weak signs of stress: each may be nothing, many are something.

Panting after a retrieve or in heat, and a lip lick after food, say nothing of stress and are
not counted.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

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


@dataclass(slots=True)
class _WeakSigns:
    """The weak signs of each rep, the first of each name; the reps in order, each with its first
    sign and how many sure reps there were up to it."""

    in_rep: dict[int, tuple[Mark, ...]] = field(default_factory=dict)
    recent: list[tuple[Mark, int]] = field(default_factory=list)


@dataclass(slots=True)
class _Explained:
    """When the dog was fed last and when it retrieved (s), and whether the air is hot; None before
    what held at the start was taken in."""

    fed_s: float = float("-inf")
    retrieved_s: float = float("-inf")
    is_hot: bool | None = None


@rule("stress-weak", "caution", "weak_signs", "weak_reps", "weak_window", basis=WEAK)
def stress_weak(view: RuleContext) -> Iterator[RuleMatch]:
    """Two different weak signs in one rep, or weak signs in three of ten reps."""
    thresholds = view.thresholds
    now = view.kept(_WeakSigns)
    for mark in _counted(view):
        if mark.rep is None:
            continue
        signs = now.in_rep.get(mark.rep, ())
        is_first = not signs
        names = [sign.name for sign in signs]
        if mark.name not in names:
            signs = now.in_rep[mark.rep] = (*signs, mark)
        if len(signs) >= thresholds.weak_signs and mark.name not in names:
            yield RuleMatch(
                mark.entry,
                signs,
                f"{len(signs)} weak signs{view.where(mark)}: {', '.join([*names, mark.name])}.",
                "Make it easier, give the dog a break, and go on without the button.",
            )
        if not is_first:
            continue
        sure = view.sure_reps(mark.rep)
        now.recent.append((mark, sure))
        recent = [one for one, then in now.recent if sure - then < thresholds.weak_window]
        if len(recent) >= thresholds.weak_reps:
            yield RuleMatch(
                f"{mark.entry}+",
                tuple(recent),
                f"Weak signs in {len(recent)} of the last {thresholds.weak_window} reps"
                f"{view.where(mark)}.",
                "End sooner, on something the dog knows, and make the next session easier.",
            )


def _counted(view: RuleContext) -> Iterator[Mark]:
    """The weak signs that food, exercise and heat do not explain."""
    now = view.kept(_Explained)
    if now.is_hot is None:
        carried = (mark for mark in view.carried if mark.name == "temperature")
        now.is_hot = any(_is_hot(view, mark) for mark in carried)
    for mark, _, _ in view.timeline:
        if mark.kind == "reward" and view.sure(mark):
            if mark.name == "treat":
                now.fed_s = mark.at_s
            elif mark.name == "retrieve":
                now.retrieved_s = mark.at_s
        elif mark.kind == "condition" and mark.name == "temperature":
            now.is_hot = _is_hot(view, mark) and view.sure(mark)
        elif mark.kind == "sign" and mark.value == "weak":
            worked = now.is_hot or mark.at_s - now.retrieved_s <= PANTING_S
            ate = mark.at_s - now.fed_s <= FOOD_S
            if not (mark.name == "panting" and worked) and not (mark.name == "lip lick" and ate):
                yield mark


def _is_hot(view: RuleContext, mark: Mark) -> bool:
    return celsius(view, mark) >= bands_c(view)[0]


RULES = (stress_weak,)
