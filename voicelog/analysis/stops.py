"""Which stops of the last sessions still stand.

A stop says: no button next session. It is settled by a session that kept to that: one without a
stop, in which no rep had a stimulus or may have had one, and no strong sign showed. Whatever was
done in between with the button leaves it standing.
"""

from __future__ import annotations

from collections.abc import Sequence

from voicelog.analysis.sitting import Sitting
from voicelog.analysis.unaided import stimulated

__all__ = ["SETTLE", "WITHIN", "open_stops"]

WITHIN = 10
"""Sessions back in which a stop may still stand (common practice, no source)."""

SETTLE = "an easy session without the button and without a stop"
"""What settles a stop, in words."""


def open_stops(sittings: Sequence[Sitting]) -> tuple[Sitting, ...]:
    """The sessions whose stops still stand, the newest first. `sittings` of one dog on any
    transmitter, oldest first."""
    found: list[Sitting] = []
    for sitting in reversed(sittings[-WITHIN:]):
        if sitting.stops:
            found.append(sitting)
        elif _settles(sitting):
            break
    return tuple(found)


def _settles(sitting: Sitting) -> bool:
    """Whether it was surely without the button; a doubtful press is a press here."""
    live = [rep for rep in sitting.tries if rep.heard != "void"]
    free = all(rep.mode == "none" and not stimulated(rep) and not rep.strong for rep in live)
    return free and any(rep.heard == "sure" for rep in live)
