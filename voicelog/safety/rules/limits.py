"""Enough is enough: presses and minutes of one session, and sessions of one day."""

from __future__ import annotations

from collections.abc import Iterator

from voicelog.safety.rule import RuleMatch, rule
from voicelog.safety.rule_context import RuleContext

__all__ = ["RULES"]

_ADVICE = "End here on something the dog knows, and keep the next session shorter."


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
    if view.history.stimulated == 0:
        most = min(most, thresholds.presses_first)
    for number, press in enumerate(view.presses[most:], most + 1):
        message = (
            f"Press number {number}{view.where(press.mark)}; the limit for this dog is {most}."
        )
        yield RuleMatch(press.mark.entry, (press.mark,), message, _ADVICE)


@rule(
    "too-long", "caution", "minutes_pup", "minutes_adult", "pup_months", once=True, live=["by time"]
)
def too_long(view: RuleContext) -> Iterator[RuleMatch]:
    """A session with the button that is longer than this dog's limit."""
    short = view.is_pup or view.history.stimulated == 0
    minutes = view.thresholds.minutes_pup if short else view.thresholds.minutes_adult
    session = view.session
    ends_s = session.start_s + minutes * 60
    pressed_s = next((mark.at_s for mark in session.marks if mark.kind == "press"), None)
    if pressed_s is None or session.end_s <= ends_s:
        return
    after = (mark for mark in session.marks if mark.at_s > max(ends_s, pressed_s))
    mark = next(after, session.marks[-1])
    lasted = (session.end_s - session.start_s) / 60
    message = f"{lasted:.0f} minutes; the limit for this dog is {minutes:g}."
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
