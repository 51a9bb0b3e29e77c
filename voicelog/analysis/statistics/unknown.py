"""What stands where a number would, when there is no honest number.

Every estimate of this room returns its own record or an `Unknown`; none returns a number
that its reps do not bear.
"""

from __future__ import annotations

from voicelog.model import FrozenModel

__all__ = ["Unknown"]


class Unknown(FrozenModel):
    """Why there is no number: one sentence for the trainer, and how many reps there were."""

    why: str
    of: int = 0
