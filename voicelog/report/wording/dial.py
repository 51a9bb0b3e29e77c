"""The steps of a transmitter's dial, in words."""

from __future__ import annotations

from voicelog.model import Transmitter
from voicelog.model.dial import STEP_FRACTION, max_step_up, step_down

__all__ = ["describe_steps"]


def describe_steps(unit: Transmitter) -> str:
    """What one step is on this dial, as it stands on lists and papers. `unit` says how far the dial
    goes."""
    most = max_step_up(unit)
    grows = (
        f", from level {2 * STEP_FRACTION} on a tenth of the level, at most {most}"
        if most > 1
        else ""
    )
    least = step_down(unit, unit.lowest)
    tenth = ", or a tenth of the level where that is more" if unit.top is None else ""
    return f"steps up of 1{grows}, steps down of {least}{tenth}"
