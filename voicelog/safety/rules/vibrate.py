"""Vibrate and tone are stimulus too: the limits of the button hold for them, and a pup has none."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field

from voicelog.model import Mark
from voicelog.safety.rule import RuleMatch, press_words, rule
from voicelog.safety.rule_context import RuleContext

__all__ = ["RULES"]


@dataclass(slots=True)
class _Buzzed:
    counts: Counter[int | None] = field(default_factory=Counter)
    all: int = 0


@rule("vibrate-often", "remark", "rep_presses", "presses_pup", "presses_adult", "pup_months")
def vibrate_often(view: RuleContext) -> Iterator[RuleMatch]:
    """Vibrate or tone more often in a rep, or in a session, than the button may be."""
    limits = view.thresholds
    most = limits.presses_pup if view.is_pup else limits.presses_adult
    now = view.kept(_Buzzed)
    counts = now.counts
    for mark in view.buzzes:
        counts[mark.rep] += 1
        now.all += 1
        if mark.rep is not None and counts[mark.rep] == limits.rep_presses + 1:
            yield RuleMatch(
                f"{mark.entry}+",
                (mark,),
                f"{press_words(mark)} for the {_nth(counts[mark.rep])} time{view.where(mark)}.",
                "What it does not answer it does not know yet: help it with the line, and make "
                "the next rep easier.",
            )
        if now.all == most + 1:
            yield RuleMatch(
                "session",
                (mark,),
                f"Vibrate or tone for the {_nth(now.all)} time{view.where(mark)}; the limit is "
                f"{most} {'in a session of a pup' if view.is_pup else 'in a session'}.",
                "End sooner, on something the dog knows.",
            )


@dataclass(slots=True)
class _HeldBuzzes:
    marks: list[Mark] = field(default_factory=list)


@rule("vibrate-long", "caution", "press_s", live=["lasting"])
def vibrate_long(view: RuleContext) -> Iterator[RuleMatch]:
    """Vibrate or tone held longer than the button may be."""
    longest_s = view.thresholds.press_s
    held = view.kept(_HeldBuzzes)
    for mark, press, _ in view.timeline:
        if mark.kind not in ("press", "off"):
            continue
        for before in held.marks:
            lasted_s = mark.at_s - before.at_s
            if lasted_s > longest_s and mark.rep == before.rep:
                yield RuleMatch(
                    before.entry,
                    (before, mark),
                    f"{press_words(before)} was held for {lasted_s:.0f} s{view.where(mark)}.",
                    f"Thumb off after {longest_s:g} s at most, and at once when the dog complies.",
                )
        if view.sure(mark):
            held.marks = []
        if mark.kind == "press" and press is None:
            held.marks.append(mark)


@rule("vibrate-young", "remark", "vibrate_months", once=True, live=["each press"])
def vibrate_young(view: RuleContext) -> Iterator[RuleMatch]:
    """Vibrate or tone on a pup under the set age."""
    months, youngest = view.age_months, view.thresholds.vibrate_months
    if months is None or months >= youngest:
        return
    for mark in view.buzzes:
        yield RuleMatch(
            mark.entry,
            (mark,),
            f"{press_words(mark)} was used{view.where(mark)} on a dog of {months} months.",
            f"No vibrate and no tone before {youngest} months. Voice, line and treats are enough.",
        )


def _nth(number: int) -> str:
    ending = "th" if number % 100 in (11, 12, 13) else {1: "st", 2: "nd", 3: "rd"}.get(number % 10)
    return f"{number}{ending or 'th'}"


RULES = (vibrate_often, vibrate_long, vibrate_young)
