"""Whether a collar is part of a dog's work at all.

Much good work has none. So papers and ear speak of levels, of the dial and of how to begin with the
button only to who has a collar: it was spoken of, something was pressed, or the profile has one.
What is not said of it asks for nothing.
"""

from __future__ import annotations

from collections.abc import Sequence

from voicelog.analysis.session_digest import SessionDigest
from voicelog.analysis.unaided import stimulated
from voicelog.model import Dog, Transmitter

__all__ = ["sessions_use_collar", "uses_collar"]


def uses_collar(session_digests: Sequence[SessionDigest], dog: Dog) -> bool:
    """Whether a collar is part of the work of `dog`, by its profile or by any of its sessions."""
    return dog.has_collar or sessions_use_collar(session_digests)


def sessions_use_collar(session_digests: Sequence[SessionDigest]) -> bool:
    """Whether a collar is part of any of the sessions. A rep of which it is not known whether the
    button was used is one of a dog that has a collar."""
    return any(
        one.collar
        or one.ceiling is not None
        or one.transmitter != Transmitter()
        or any(stimulated(rep) or rep.mode == "unknown" for rep in one.reps)
        for one in session_digests
    )
