"""The air is too warm to work a dog, with a collar or without."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import get_args

from voicelog.model import Mark, Severity
from voicelog.safety.heat_index import band, heat_index_f
from voicelog.safety.rule import RuleMatch, rule
from voicelog.safety.rule_context import RuleContext

__all__ = ["RULES", "bands_c", "celsius"]

_BASIS = (
    "air temperature, common practice (housing rule US 9 CFR 3.3(a): not above 29.5 C for more "
    "than 4 hours); no index validated for dogs was found"
)
_ADVICE = (
    "Water and shade; keep the reps short.",
    "Work in the cool of the day. Short reps, water and shade between them.",
    "Stop work. Shade and water; a dog that stays weak or unsteady goes to a veterinarian at once.",
)


@dataclass(slots=True)
class _AirSaid:
    marks: list[Mark] = field(default_factory=list)


@rule(
    "heat",
    "caution",
    "heat_remark_c",
    "heat_caution_c",
    "heat_stop_c",
    "heat_lower_c",
    "pup_months",
    basis=_BASIS,
    stands=True,
    anew=True,
)
def heat(view: RuleContext) -> Iterator[RuleMatch]:
    """Air temperature in one of three bands; the heat index beside it where humidity is said."""
    limits = bands_c(view)
    lower = _lower(view)
    said = [mark for mark in view.carried if mark.name in ("temperature", "humidity")]
    told = view.kept(_AirSaid).marks
    told += [
        mark
        for mark, _, _ in view.timeline
        if mark.kind == "condition" and mark.name in ("temperature", "humidity")
    ]
    said += told
    worst = 0
    for place, mark in enumerate(said):
        if mark.name != "temperature" or not isinstance(mark.value, int):
            continue
        reached = sum(celsius(view, mark) >= limit for limit in limits)
        if reached > worst:
            yield RuleMatch(
                mark.entry,
                (mark,),
                f"The air is {mark.value} {_unit(view, mark)}.{lower}{_index(view, said, place)}",
                _ADVICE[reached - 1],
                severity=get_args(Severity)[reached - 1],
            )
        if view.sure(mark):
            worst = max(worst, reached)


def bands_c(view: RuleContext) -> tuple[float, float, float]:
    """Where remark, caution and stop begin for this dog, in degrees Celsius."""
    thresholds = view.thresholds
    lower = thresholds.heat_lower_c if _bears_badly(view) else 0.0
    return (
        thresholds.heat_remark_c - lower,
        thresholds.heat_caution_c - lower,
        thresholds.heat_stop_c - lower,
    )


def _bears_badly(view: RuleContext) -> tuple[str, ...]:
    """Why this dog's bands are lower; empty when they are not."""
    return (*(("pup",) if view.is_pup else ()), *view.session.dog.heat_traits)


def _lower(view: RuleContext) -> str:
    why, degrees = _bears_badly(view), view.thresholds.heat_lower_c
    return f" For this dog ({', '.join(why)}) the bands are {degrees:g} C lower." if why else ""


def celsius(view: RuleContext, mark: Mark) -> float:
    """A temperature said, in degrees Celsius."""
    value = mark.value if isinstance(mark.value, int) else 0
    return (value - 32) / 1.8 if _unit(view, mark) == "F" else float(value)


def _unit(view: RuleContext, mark: Mark) -> str:
    units = (
        held.unit
        for held in view.session.conditions
        if held.name == mark.name and held.at_s == mark.at_s
    )
    return next(units, None) or "C"


def _index(view: RuleContext, said: list[Mark], place: int) -> str:
    """The heat index with the humidity in force, or with the next one said."""
    around = [*reversed(said[:place]), *said[place + 1 :]]
    humidity = next((mark.value for mark in around if mark.name == "humidity"), None)
    if not isinstance(humidity, int) or not 0 <= humidity <= 100:
        return ""
    mark = said[place]
    index_f = heat_index_f(celsius(view, mark) * 1.8 + 32, humidity)
    unit = _unit(view, mark)
    shown = index_f if unit == "F" else (index_f - 32) / 1.8
    name = band(index_f)
    named = f", {name} on the NWS chart" if name else ""
    return f" Heat index (a human index) {shown:.0f} {unit} at {humidity}% humidity{named}."


RULES = (heat,)
