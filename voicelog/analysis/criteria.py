"""What counts as ready, due, stuck or thin, with bounds, unit and basis.

These are thresholds like those of the safety rules and stand in the same settings file. None
of them counts presses in favour of a dog.
"""

from __future__ import annotations

from typing import Any

from pydantic import ConfigDict, Field

from voicelog.model import FrozenModel

__all__ = ["Criteria", "threshold_field"]


def threshold_field(default: Any, low: float, high: float, text: str) -> Any:
    """A field with its bounds, and its unit and basis in words."""
    return Field(default=default, ge=low, le=high, description=text)


class Criteria(FrozenModel):
    """What the analysis over weeks goes by for one dog."""

    model_config = ConfigDict(strict=True)

    look_back: int = threshold_field(
        10, 4, 40, "sessions that levels, times and shares look back on; common practice"
    )
    recent_weeks: int = threshold_field(
        4, 2, 12, "weeks before the newest session that say what a dog does today; common practice"
    )
    ready_passes: int = threshold_field(
        8, 6, 10, "calls among the last ready_of that have to be unaided; common practice"
    )
    ready_of: int = threshold_field(
        10, 10, 20, "last calls that have to be good now, beside the evidence; common practice"
    )
    ready_sessions: int = threshold_field(
        2, 2, 5, "last sessions without a strong sign and with little button, and days that the "
        "evidence has to come from, at least; common practice"
    )  # fmt: skip
    ready_days: int = threshold_field(
        56, 14, 182, "days after which a session no longer counts for readiness; common practice"
    )
    ready_button: int = threshold_field(
        2, 0, 3, "reps with the button among the last ready_of, at most; common practice"
    )
    answered_reps: int = threshold_field(
        3, 2, 10, "reps answered at a level before it counts as evidence; common practice"
    )
    fade_weeks: int = threshold_field(
        2, 1, 8, "weeks without recalls answered in the dog's mode for each of which a plan starts "
        "a step lower; common practice"
    )  # fmt: skip
    ease_steps: int = threshold_field(
        2, 1, 10, "steps that every later press stays below a level with a strong sign, and so "
        "the ceiling; common practice"
    )  # fmt: skip
    strong_chance: float = threshold_field(
        0.05, 0.01, 0.2, "chance of a strong sign at which a fitted curve lowers the ceiling"
    )
    plan_reps: int = threshold_field(
        10, 3, 20, "reps that a session is planned for; common practice"
    )
    plan_reps_pup: int = threshold_field(
        6, 2, 12, "reps planned for a pup or a new dog; common practice"
    )
    day_sessions: int = threshold_field(
        2, 1, 3, "sessions of a dog in one day, at most; common practice"
    )
    due_days: int = threshold_field(
        4, 1, 14, "days without a session after which a dog is due; common practice (sessions "
        "once or twice a week taught as much as daily ones: Demant et al., Appl Anim Behav Sci "
        "133:228-234, 2011)"
    )  # fmt: skip
    stuck_sessions: int = threshold_field(
        15, 3, 20, "sessions at one distraction after which a dog that is not ready is stuck"
    )
    litter_pups: int = threshold_field(
        8, 8, 20, "pups of a litter that are needed for a verdict; common practice"
    )
    creep_sessions: int = threshold_field(
        4, 3, 8, "sessions in which the answered level, the stress or the button may not keep "
        "rising or stay high; common practice"
    )  # fmt: skip
    creep_steps: int = threshold_field(
        1, 1, 3, "steps by which the answered level has then risen; common practice"
    )
    step_reps: int = threshold_field(
        5, 3, 20, "recalls at a distraction before it counts as worked; common practice"
    )
    pup_months: int = threshold_field(12, 6, 24, "months of age below which a dog is a pup")
    youngest_months: int = threshold_field(
        6, 4, 24, "months of age below which no stimulation is given; common practice"
    )
