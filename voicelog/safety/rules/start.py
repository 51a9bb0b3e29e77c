"""How stimulation starts: old enough, warmed up on vibrate, low and in a quiet place."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from voicelog.model.dial import level_above
from voicelog.model.domain import DISTRACTION_LADDER
from voicelog.safety.rule import RuleMatch, rule
from voicelog.safety.rule_context import RuleContext

__all__ = ["RULES"]

_BUSY = frozenset({"medium", "high"})


@rule("too-young", "stop", "youngest_months", once=True, live=["each press"])
def too_young(view: RuleContext) -> Iterator[RuleMatch]:
    """Stimulation under the set age; work without the button is free."""
    months, youngest = view.age_months, view.thresholds.youngest_months
    if months is None or months >= youngest:
        return
    for press in view.presses:
        yield RuleMatch(
            press.mark.entry,
            (press.mark,),
            f"Level {press.level} was used{view.where(press.mark)} on a dog of {months} months.",
            f"No stimulation before {youngest} months. Work without the button is free.",
        )


@dataclass(slots=True)
class _WarmUp:
    done: bool = False


@rule("warmup-missing", "caution", once=True)
def warmup_missing(view: RuleContext) -> Iterator[RuleMatch]:
    """The first stimulation session of a dog that never felt a vibration before it.

    Waived for a dog that showed a strong sign to vibrate, and where the transmitter has none.
    """
    past = view.history
    if past.stimulated or past.vibrated or past.strong_to_vibrate:
        return
    if "vibrate" not in view.session.dog.transmitter.modes:
        return
    warm_up = view.kept(_WarmUp)
    for mark, press, _ in view.timeline:
        if mark.kind == "press" and mark.name == "vibrate" and view.sure(mark):
            warm_up.done = True
        if press is not None and not warm_up.done:
            yield RuleMatch(
                mark.entry,
                (mark,),
                f"First stimulation session, and no vibrate rep before level {press.level}"
                f"{view.where(mark)}.",
                "Work without the button. A dog that does not know vibrate is not given a level.",
            )


@rule("start-high", "caution", "start_above", once=True)
def start_high(view: RuleContext) -> Iterator[RuleMatch]:
    """The session's first press is above where this dog should start."""
    lowest = view.session.dog.transmitter.lowest
    for press in view.presses:
        if not press.first:
            return
        where = view.where(press.mark)
        busy = sorted(str(value) for value in press.values("distraction") & _BUSY)
        if view.history.stimulated == 0 and busy:
            yield RuleMatch(
                press.mark.entry,
                (*press.held["distraction"], press.mark),
                f"First stimulation of a dog new to it, at {busy[0]} distraction{where}.",
                "Start a dog that is new to it with no or low distraction.",
            )
        start = _start(view, view.distractions(press))
        steps = view.thresholds.start_above
        most = lowest if start is None else level_above(view.unit, start, steps)
        if press.level > most:
            of = "the lowest level" if start is None else "the level answered before"
            yield RuleMatch(
                press.mark.entry,
                (press.mark,),
                f"Started at level {press.level}{where}; {of} is "
                f"{lowest if start is None else start}.",
                "Begin without the button.",
            )


def _start(view: RuleContext, distractions: set[str]) -> int | None:
    """The level answered at this distraction, else at the nearest easier one, else the lowest
    answered at any; None where no level was answered on this transmitter."""
    answered = view.history.answered
    if not answered or view.history.transmitter != view.session.dog.transmitter:
        return None

    def level(said: str) -> int:
        easier = (
            DISTRACTION_LADDER[: DISTRACTION_LADDER.index(said) + 1]
            if said in DISTRACTION_LADDER
            else (said,)
        )
        known = (answered[name] for name in reversed(easier) if name in answered)
        return next(known, min(answered.values()))

    return min(map(level, distractions))


RULES = (too_young, warmup_missing, start_high)
