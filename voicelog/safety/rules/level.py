"""Is the level where it should be: steps, ceilings, and what the dog answered before."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from voicelog.model import Mark
from voicelog.model.dial import level_above
from voicelog.safety.history import ANSWERED
from voicelog.safety.rule import RuleMatch, rule
from voicelog.safety.rule_context import LevelPress, RuleContext

__all__ = ["RULES"]


@rule("step-big", "caution", "step_up", live=["read back"])
def step_big(view: RuleContext) -> Iterator[RuleMatch]:
    """Up by more than one step between presses."""
    steps = view.thresholds.step_up
    for press in view.presses:
        if not press.before:
            continue
        last = min(press.before, key=lambda before: before.level)
        most = level_above(view.unit, last.level, steps)
        if press.level > most:
            yield RuleMatch(
                press.mark.entry,
                (last.mark, press.mark),
                f"Up from level {last.level} to {press.level} at once{view.where(press.mark)}.",
                view.cannot_be(press.level, last.level) or "Change by one step at a time.",
            )


@rule("over-ceiling", "stop")
def over_ceiling(view: RuleContext) -> Iterator[RuleMatch]:
    """Above the session's ceiling, or the profile's where none was said."""
    for press in view.presses:
        for said in press.held.get("ceiling", ()):
            if isinstance(said.value, int) and press.level > said.value:
                yield RuleMatch(
                    press.mark.entry,
                    (said, press.mark),
                    f"Level {press.level}{view.where(press.mark)} is above the ceiling "
                    f"{said.value}.",
                    "Keep to the ceiling; make the task easier instead.",
                )


@rule(
    "over-range",
    "caution",
    basis="the transmitter's range in the dog's profile",
    stands=True,
    live=["read back"],
)
def over_range(view: RuleContext) -> Iterator[RuleMatch]:
    """Above what the transmitter can do: a slip of the tongue, the ear or the profile."""
    unit = view.unit
    top = "the transmitter's top" if unit.top is not None else "the top taken where none is given"
    for press in view.presses:
        if press.level > unit.highest:
            yield RuleMatch(
                press.mark.entry,
                (press.mark,),
                f"Level {press.level}{view.where(press.mark)} is above {top}, {unit.highest}.",
                view.cannot_be(press.level)
                or "Check what was said and correct the entry, or set the transmitter's range in "
                "the dog's profile.",
            )


@dataclass(slots=True)
class _Answered:
    """The levels answered at each distraction, with the press where it was in this session, None
    before that of earlier sessions was taken in; the presses of the rep under way."""

    levels: dict[str, tuple[tuple[int, Mark | None], ...]] | None = None
    in_rep: tuple[LevelPress, ...] = ()


@rule("not-rolled-back", "remark", "roll_back", once=True)
def not_rolled_back(view: RuleContext) -> Iterator[RuleMatch]:
    """A rep starts well above the level last answered at this distraction.

    The session's first press is start-high's business.
    """
    steps = view.thresholds.roll_back
    now = view.kept(_Answered)
    if now.levels is None:
        same = view.history.transmitter == view.session.dog.transmitter
        before = view.history.answered if same else {}
        now.levels = {said: ((level, None),) for said, level in before.items()}
    answered = now.levels
    for mark, press, _ in view.timeline:
        if press is not None:
            same_rep = bool(now.in_rep) and now.in_rep[0].mark.rep == mark.rep
            starts = not (same_rep and any(view.sure(one.mark) for one in now.in_rep))
            if starts and press.before:
                for last, pressed in (
                    one for said in view.distractions(press) for one in answered.get(said, ())
                ):
                    if press.level > level_above(view.unit, last, steps):
                        yield RuleMatch(
                            mark.entry,
                            (mark,) if pressed is None else (pressed, mark),
                            f"The rep started at level {press.level}{view.where(mark)}; the level "
                            f"last answered was {last}.",
                            view.cannot_be(press.level)
                            or "Come back down as soon as the dog has answered.",
                        )
            kept = now.in_rep if same_rep and not view.sure(mark) else ()
            now.in_rep = (*kept, press)
        elif mark.name in ANSWERED and now.in_rep and now.in_rep[0].mark.rep == mark.rep:
            held = view.distractions(now.in_rep[-1])
            is_sure = view.sure(mark) and len(held) == 1 and not view.to_check(mark)
            for name in held:
                known = () if is_sure else answered.get(name, ())
                answered[name] = known + tuple((one.level, one.mark) for one in now.in_rep)


@dataclass(slots=True)
class _Lowest:
    press: LevelPress | None = None


@rule("climbed", "caution", "climb_steps", once=True)
def climbed(view: RuleContext) -> Iterator[RuleMatch]:
    """A level far above the lowest one of the session, each step of the way small or not; the
    search for the level first noticed is left out."""
    steps = view.thresholds.climb_steps
    now = view.kept(_Lowest)
    for press in view.presses:
        if view.in_search(press):
            continue
        lowest = now.press
        if lowest is None or press.level < lowest.level:
            now.press = press
        elif press.level > level_above(view.unit, lowest.level, steps):
            yield RuleMatch(
                press.mark.entry,
                (lowest.mark, press.mark),
                f"From level {lowest.level} to {press.level}{view.where(press.mark)} in one "
                "session.",
                "A level that climbs does not teach: make the task easier, nearer or quieter, and "
                "work without the button.",
            )


RULES = (step_big, over_ceiling, over_range, not_rolled_back, climbed)
