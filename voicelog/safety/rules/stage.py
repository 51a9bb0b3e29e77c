"""Stimulation on birds or with gunfire, before the dog has come that far.

A dog that meets either in pain may fear it for life, and is then lost for the work.
"""

from __future__ import annotations

from collections.abc import Iterator

from voicelog.safety.rule import RuleMatch, rule
from voicelog.safety.rule_context import RuleContext

__all__ = ["RULES"]

SHOT_S = 10.0
"""How long after a shot a press is still one with gunfire; common practice."""

_ADVICE = "No button with {what} until the profile says that stage is reached."


@rule("bird", "stop", once=True, live=["each press"])
def bird(view: RuleContext) -> Iterator[RuleMatch]:
    """Stimulation on birds before the stage "bird"."""
    yield from _before_stage(view, "bird", "birds", "birds")


@rule("gun", "stop", once=True, live=["each press"])
def gun(view: RuleContext) -> Iterator[RuleMatch]:
    """Stimulation with gunfire before the stage "gun"."""
    yield from _before_stage(view, "gun", "gunfire", "gunfire")


def _before_stage(view: RuleContext, drill: str, source: str, what: str) -> Iterator[RuleMatch]:
    if drill in view.session.dog.reached:
        return
    for press in view.presses:
        causes = [
            mark
            for name, value in (("drill", drill), ("distraction_source", source))
            for mark in press.held.get(name, ())
            if mark.value == value
        ]
        if drill == "gun":
            causes += [
                shot for shot in press.held.get("shot", ()) if press.mark.at_s - shot.at_s <= SHOT_S
            ]
        if causes:
            yield RuleMatch(
                press.mark.entry,
                (*causes, press.mark),
                f"Level {press.level}{view.where(press.mark)} with {what}; the profile does not "
                "say that this dog has reached that stage.",
                _ADVICE.format(what=what),
            )


RULES = (bird, gun)
