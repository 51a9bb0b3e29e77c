"""Which sessions a plan is made from: few enough for every dog of a kennel, the same on all papers.

The last ones, and of those before them what never fades: of each transmitter its last session and
the one with the lowest level that had a strong sign, the last one with such a sign on vibrate, and
the last one in which it was said how the skin is and the last one in which it was red or sore.
"""

from __future__ import annotations

from collections.abc import Sequence

from voicelog.analysis.levels import strong_levels
from voicelog.analysis.recent_calls import LAST_SESSIONS
from voicelog.analysis.session_digest import SessionDigest, by_date, skin_was_bad
from voicelog.model import Transmitter

__all__ = ["felt_vibrate", "lowest_strong_level", "planned_sessions"]


def planned_sessions(session_digests: Sequence[SessionDigest]) -> tuple[SessionDigest, ...]:
    """Those of a dog's sessions, in any order, that its plan is made from, oldest first.

    Asked of a part that holds them all, it gives the same.
    """
    ordered = by_date(session_digests)
    if len(ordered) <= LAST_SESSIONS:
        return ordered
    kept = set(range(len(ordered) - LAST_SESSIONS, len(ordered)))
    last: dict[Transmitter, int] = {}
    lowest: dict[Transmitter, tuple[int, int]] = {}
    felt: int | None = None
    for place, one in enumerate(ordered):
        last[one.transmitter] = place
        level = lowest_strong_level(one)
        known = lowest.get(one.transmitter)
        if level is not None and (known is None or level <= known[0]):
            lowest[one.transmitter] = level, place
        felt = place if felt_vibrate(one) else felt
    kept |= {*last.values(), *(place for _, place in lowest.values())}
    if felt is not None:
        kept.add(felt)
    skin = [place for place, one in enumerate(ordered) if one.skin is not None]
    bad = [place for place, one in enumerate(ordered) if skin_was_bad(one) is not None]
    kept |= {*skin[-1:], *bad[-1:]}
    return tuple(ordered[place] for place in sorted(kept))


def lowest_strong_level(session_digest: SessionDigest) -> int | None:
    """The lowest level of a session at which a strong sign showed, None where none did."""
    reps = (rep for rep in session_digest.reps if rep.state != "void")
    return min((level for rep in reps for level, _ in strong_levels(rep)), default=None)


def felt_vibrate(session_digest: SessionDigest) -> bool:
    """Whether a strong sign showed in a rep on vibrate."""
    return any(
        rep.mode == "vibrate" and rep.strong and rep.state != "void" for rep in session_digest.reps
    )
