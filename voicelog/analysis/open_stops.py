"""Which stops of the last sessions still stand.

A stop says: no button next session. It is settled by a session that kept to that: one without a
stop, in which no rep had a stimulus or may have had one, and no strong sign showed. Whatever was
done in between with the button leaves it standing.
"""

from __future__ import annotations

from collections.abc import Sequence

from voicelog.analysis.session_digest import SessionDigest
from voicelog.analysis.unaided import stimulated

__all__ = ["STOP_WINDOW", "open_stops"]

STOP_WINDOW = 10
"""Sessions back in which a stop may still stand (common practice, no source)."""


def open_stops(session_digests: Sequence[SessionDigest]) -> tuple[SessionDigest, ...]:
    """The sessions whose stops still stand, the newest first. `session_digests` of one dog on any
    transmitter, oldest first."""
    found: list[SessionDigest] = []
    for session_digest in reversed(session_digests[-STOP_WINDOW:]):
        if session_digest.stops:
            found.append(session_digest)
        elif _settles(session_digest):
            break
    return tuple(found)


def _settles(session_digest: SessionDigest) -> bool:
    """Whether it was surely without the button; a doubtful press is a press here."""
    live = [rep for rep in session_digest.reps if rep.state != "void"]
    free = all(rep.mode == "none" and not stimulated(rep) and not rep.strong for rep in live)
    return free and any(rep.state == "sure" for rep in live)
