"""The base class of every type here, and the times that they hold."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict, Field

__all__ = ["LONGEST_S", "PLAUSIBLE_YEARS", "FrozenModel", "Moment", "Seconds", "checked_moment"]

LONGEST_S = 1e7
"""No recording is longer, in seconds (116 days); a time beyond it is a slip or made to do harm."""
PLAUSIBLE_YEARS = range(1900, 2200)
"""Years in which something can have been recorded: far from both ends of the calendar, so that
what is counted from a moment stays within it."""


def checked_moment(moment: datetime) -> datetime:
    """The moment itself; ValueError where its year is none of `PLAUSIBLE_YEARS`."""
    if moment.year not in PLAUSIBLE_YEARS:
        raise ValueError(f"a moment is of the years {PLAUSIBLE_YEARS[0]} to {PLAUSIBLE_YEARS[-1]}")
    return moment


Seconds = Annotated[float, Field(ge=0, le=LONGEST_S, allow_inf_nan=False)]
"""A time in a recording, from its first sample (s)."""
Moment = Annotated[datetime, AfterValidator(checked_moment)]
"""A time of the wall clock that can be meant."""


class FrozenModel(BaseModel):
    """Base of every type here: frozen, and strict about unknown fields."""

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True)
