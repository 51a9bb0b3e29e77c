"""When something changed: the tabular CUSUM.

It adds up how far each value lies above (or below) where it used to be, less a slack, and
never goes below 0; when the sum passes a limit the values have moved, and they began to move
where the sum last left 0.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from voicelog.analysis.unknown import Unknown
from voicelog.model import Record

__all__ = ["Cusum", "change", "cusum"]


class Cusum(Record):
    """Both sums after each value, and the first signal if there is one.

    `signal` and `began` are indexes into the values: where the sum passed the limit, and
    where it left 0 for that.
    """

    target: float
    slack: float
    limit: float
    above: tuple[float, ...]
    below: tuple[float, ...]
    signal: int | None
    began: int | None
    direction: Literal["up", "down"] | None

    def sentence(self, what: str, when: Sequence[str]) -> str:
        """One sentence: `what` changed or did not; `when` is the date of each value."""
        raise NotImplementedError


def cusum(values: Sequence[float], target: float, slack: float, limit: float) -> Cusum:
    """The tabular CUSUM of values in order of time. Raises ValueError for a negative slack, a
    limit that is not positive, or values that are not finite."""
    raise NotImplementedError


def change(values: Sequence[float], baseline: int = 8) -> Cusum | Unknown:
    """The CUSUM of the values after the first `baseline` of them, against those.

    Indexes count from the first value of all. Target: their mean; slack half and limit five
    of their standard deviations. `Unknown` with fewer than baseline + 1 values, or when the
    first do not differ at all.
    """
    raise NotImplementedError
