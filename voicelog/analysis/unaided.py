"""What a first call is: the one definition that every paper and criterion goes by.

A *first call* is answered when the dog was asked once, came promptly or slowly, and no stimulus
of any kind (level, tap, vibrate, tone) was used before that. A rep with the button is a rep,
never a pass: with presses counted, a dog that answers every second call by luck met the
criterion of readiness in one look of seven. What was not said is not none: a rep of which the
button is not known is no pass either.

A rep as kept (`Rep`) and a rep in short (`RepDigest`) have these fields alike, so a session's
summary and the papers over weeks ask the same functions.
"""

from __future__ import annotations

from voicelog.analysis.session_digest import RepDigest
from voicelog.model import Rep

__all__ = ["asked", "asked_for_readiness", "came_at_once", "stimulated", "unaided"]

STANDING = "steady"
"""The drill in which no call is given: the dog just stays."""


def stimulated(rep: Rep | RepDigest) -> bool:
    """Whether a stimulus of any kind was said to be used."""
    return bool(rep.levels) or rep.mode not in ("none", "unknown")


def asked(rep: Rep | RepDigest) -> bool:
    """Whether a call was heard, and what came of it was said."""
    return rep.cues > 0 and rep.outcome not in (None, "unknown")


def came_at_once(rep: Rep | RepDigest) -> bool:
    """Whether it came after one call, with or without a stimulus."""
    return rep.cues == 1 and rep.outcome in ("complied", "slow")


def unaided(rep: Rep | RepDigest) -> bool:
    """Whether a first call was answered: asked once, no stimulus, and it came."""
    once = rep.cues == 1 or (rep.drill == STANDING and rep.cues == 0)
    free = rep.mode == "none" and not rep.levels
    return once and free and rep.outcome in ("complied", "slow")


def asked_for_readiness(rep: RepDigest, drill: str | None) -> bool:
    """Whether readiness reads the rep, to be met or not.

    All that were asked are read, and what is doubtful or has no outcome said is not met; so is a
    stimulus without a call that was heard. Only void reps are left out.
    """
    was_asked = rep.cues > 0 or stimulated(rep) or drill == STANDING
    return rep.state != "void" and rep.drill == drill and was_asked
