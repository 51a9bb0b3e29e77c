"""Is the level where it should be: steps, ceilings, and what the dog answered before."""

from __future__ import annotations

from collections.abc import Iterator

from voicelog.safety.rule import Sighting, rule
from voicelog.safety.view import View

__all__ = ["RULES"]


@rule("step-big", "caution", "step_up")
def step_big(view: View) -> Iterator[Sighting]:
    """Up by more than one step between presses."""
    most = view.thresholds.step_up * view.step
    for press in view.presses:
        if not press.before:
            continue
        last = min(press.before, key=lambda before: before.level)
        if press.level > last.level + most:
            yield Sighting(
                press.mark.entry,
                (last.mark, press.mark),
                f"Up from level {last.level} to {press.level} at once{view.where(press.mark)}.",
                f"Change by one step at a time ({most} on this transmitter).",
            )


@rule("over-ceiling", "stop")
def over_ceiling(view: View) -> Iterator[Sighting]:
    """Above the session's ceiling, or the profile's where none was said."""
    for press in view.presses:
        for said in press.held.get("ceiling", ()):
            if isinstance(said.value, int) and press.level > said.value:
                yield Sighting(
                    press.mark.entry,
                    (said, press.mark),
                    f"Level {press.level}{view.where(press.mark)} is above the ceiling "
                    f"{said.value}.",
                    f"Stop here. Stay at {said.value} or below; make the task easier instead.",
                )


@rule("over-range", "caution", basis="the transmitter's range in the dog's profile")
def over_range(view: View) -> Iterator[Sighting]:
    """Above what the transmitter can do: a slip of the tongue, the ear or the profile."""
    top = view.session.dog.transmitter.top
    for press in view.presses:
        if press.level > top:
            yield Sighting(
                press.mark.entry,
                (press.mark,),
                f"Level {press.level}{view.where(press.mark)} is above the transmitter's top, "
                f"{top}.",
                "Listen to the entry and correct it, or set the transmitter's range in the "
                "dog's profile.",
            )


RULES = (step_big, over_ceiling, over_range)
