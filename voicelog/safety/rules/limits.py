"""Enough is enough: presses and minutes of one session, and sessions of one day."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from voicelog.model import Mark
from voicelog.model.grown import Grown
from voicelog.safety.rule import RuleMatch, rule
from voicelog.safety.rule_context import RuleContext

__all__ = ["RULES"]

_ADVICE = "End sooner, on something the dog knows."


FIRST = "in a first session with the button"


def _whose(view: RuleContext) -> str:
    """Of which sessions a limit is."""
    return "in a session of a pup" if view.is_pup else "in a session"


@rule(
    "too-many",
    "caution",
    "presses_first",
    "presses_pup",
    "presses_adult",
    "pup_months",
    once=True,
    live=["each press"],
)
def too_many(view: RuleContext) -> Iterator[RuleMatch]:
    """Each press with a level beyond this dog's limit."""
    thresholds = view.thresholds
    most = thresholds.presses_pup if view.is_pup else thresholds.presses_adult
    whose = _whose(view)
    if view.history.stimulated == 0 and thresholds.presses_first < most:
        most, whose = thresholds.presses_first, FIRST
    first = view.press_count - len(view.presses) + 1
    for number, press in enumerate(view.presses, first):
        if number <= most:
            continue
        message = f"Press number {number}{view.where(press.mark)}; the limit is {most} {whose}."
        yield RuleMatch(press.mark.entry, (press.mark,), message, _ADVICE)


@dataclass(slots=True)
class _Over:
    """The first press, and the first mark that comes after it and after the limit."""

    pressed_s: float | None = None
    waiting: Grown[Mark] = field(default_factory=Grown)
    mark: Mark | None = None


@rule(
    "too-long",
    "caution",
    "minutes_pup",
    "minutes_adult",
    "pup_months",
    once=True,
    anew=True,
    live=["by time"],
)
def too_long(view: RuleContext) -> Iterator[RuleMatch]:
    """A session with the button that is longer than this dog's limit."""
    short = view.is_pup or view.history.stimulated == 0
    minutes = view.thresholds.minutes_pup if short else view.thresholds.minutes_adult
    session = view.session
    ends_s = session.start_s + minutes * 60
    now = view.kept(_Over)
    for mark, _, _ in view.timeline:
        if now.mark is not None:
            break
        if mark.at_s > ends_s:
            now.waiting = now.waiting.added(mark)
        if mark.kind == "press" and now.pressed_s is None:
            now.pressed_s = mark.at_s
        if now.pressed_s is not None:
            after = (one for one in now.waiting if one.at_s > now.pressed_s)
            now.mark, now.waiting = next(after, None), Grown()
    if now.pressed_s is None or session.end_s <= ends_s:
        return
    mark = now.mark or session.marks[-1]
    lasted = (session.end_s - session.start_s) / 60
    whose = FIRST if view.history.stimulated == 0 else _whose(view)
    message = f"{lasted:.0f} minutes; the limit is {minutes:g} {whose}."
    yield RuleMatch(mark.entry, (mark,), message, _ADVICE)


@rule("many-sessions", "caution", "day_sessions", once=True)
def many_sessions(view: RuleContext) -> Iterator[RuleMatch]:
    """A press of any kind in a session after those that a day may have, each with the collar."""
    before, most = view.history.today, view.thresholds.day_sessions
    if before < most:
        return
    for mark, _, _ in view.timeline:
        if mark.kind == "press":
            yield RuleMatch(
                mark.entry,
                (mark,),
                f"Session number {before + 1} with the collar on this day{view.where(mark)}.",
                f"{most} sessions with the collar in a day at most; play, or work without it.",
            )


RULES = (too_many, too_long, many_sessions)
