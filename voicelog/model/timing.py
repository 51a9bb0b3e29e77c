"""When things happened in a rep, as far as the narrator's words tell.

A word says when its narrator spoke, not when the thing happened: each moment is right to within
the narrator's error. So what lies between two of them is an interval, and what was not said, or
was said in one breath, has none.
"""

from __future__ import annotations

from typing import NamedTuple

from pydantic import Field

from voicelog.model.base import FrozenModel
from voicelog.model.phrases import Mode

__all__ = ["PressTimes", "RepIntervals", "RepTimes", "TimeInterval"]


class TimeInterval(NamedTuple):
    """A length of time known only within bounds, both in seconds (s), `lo_s` <= `hi_s`."""

    lo_s: float
    hi_s: float

    def share_above(self, limit_s: float) -> float:
        """The share (0 to 1) of the interval that lies above a limit (`limit_s`).

        An interval without width lies above it whole or not at all.
        """
        if self.hi_s <= limit_s:
            return 0.0
        if self.lo_s > limit_s:
            return 1.0
        return (self.hi_s - limit_s) / (self.hi_s - self.lo_s)

    def share_below(self, limit_s: float) -> float:
        """The share (0 to 1) of the interval that lies below a limit (s), likewise."""
        return TimeInterval(-self.hi_s, -self.lo_s).share_above(-limit_s)


class PressTimes(FrozenModel):
    """One press: the moment of its word and, where that was said, of its end (s in the recording).

    A press ends with "thumb off" or with the next press of its rep. The end of a tap is never said.
    """

    on_at_s: float
    off_at_s: float | None = None
    mode: Mode
    level: int | None = None


class RepTimes(FrozenModel):
    """The moments of a rep that were said (s from the recording's first sample); null: not said.

    Equal moments come from one breath, which has no times inside.
    """

    cue_at_s: float | None = Field(default=None, description="the first cue")
    presses: tuple[PressTimes, ...] = ()
    turned_at_s: float | None = Field(default=None, description="the dog turned")
    arrived_at_s: float | None = Field(
        default=None, description="the dog came, slowly or part of the way too"
    )


class RepIntervals(FrozenModel):
    """What lies between the moments of a rep, each from the least to the most (s), never below 0.

    Null where a moment that it needs was not said, or both were said in one breath.
    """

    error_s: float = Field(description="how far a moment may lie from its word, either way")
    answer_time_s: TimeInterval | None = Field(
        default=None, description="time given to answer: from the first cue to the first press"
    )
    stimulus_after_turn_s: TimeInterval | None = Field(
        default=None, description="stimulus of any kind after the dog turned"
    )
    stimulus_after_arrival_s: TimeInterval | None = Field(
        default=None, description="stimulus of any kind after the dog arrived"
    )
    stimulus_total_s: TimeInterval | None = Field(
        default=None, description="stimulus of any kind in the whole rep"
    )
    rest_after_strong_s: TimeInterval | None = Field(
        default=None,
        description="from the last strong sign of the reps before, in the same session, to the "
        "first word of this rep",
    )
