"""How far one step goes on a transmitter's dial: `step_up`, and `step_down`.

Every rule, ceiling, barred level and plan goes by these two and no other. Going up a step is
small, since a dog notices the low end of a dial first; going down it is large, since a little
less of what hurt still hurts. All of it is common practice, no source.
"""

from __future__ import annotations

import math

from voicelog.model import Transmitter

__all__ = [
    "STEP_FRACTION",
    "level_above",
    "level_below",
    "max_step_up",
    "step_down",
    "step_up",
]

COARSE_DIAL_TOP = 20
"""The highest top of a dial on which each level is a step of its own."""
SHARE = 20
"""A step is never a larger share of the dial going up, nor a smaller one going down."""
STEP_FRACTION = 10
"""A step grows with the level: a tenth of it."""


def step_up(unit: Transmitter, level: float) -> int:
    """Levels in one step up from `level`: one on dials up to 20 and where the top is not known,
    else a tenth of the level, at least one and at most a twentieth of the dial or the step that
    is set, whichever is less."""
    most = max_step_up(unit)
    return max(1, min(int(level) // STEP_FRACTION, most))


def step_down(unit: Transmitter, level: float) -> int:
    """Levels in one step down from `level`: a twentieth of the dial, or the step that is set
    where that is more.

    Where the top is not known the dial is taken to go to 100, and a step is a tenth of the
    level where that is more.
    """
    tenth = math.ceil(level / STEP_FRACTION) if unit.top is None else 0
    return max(step_up(unit, level), math.ceil(unit.highest / SHARE), unit.step or 1, tenth)


def level_above(unit: Transmitter, level: int, steps: int = 1) -> int:
    """The level so many steps above `level`, which may lie beyond the dial."""
    return level + steps * step_up(unit, level)


def level_below(unit: Transmitter, level: int, steps: int = 1) -> int | None:
    """The level so many steps below `level`; None where the dial has none that low, so that
    nothing is left but to work without stimulation."""
    lower = level - steps * step_down(unit, level)
    return lower if lower >= unit.lowest else None


def max_step_up(unit: Transmitter) -> int:
    """The most levels that one step up may be on this dial."""
    if unit.top is None or unit.top <= COARSE_DIAL_TOP:
        return 1
    return min(round(unit.top / SHARE), unit.step or unit.top)
