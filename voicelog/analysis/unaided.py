"""What an unaided call is: the one definition that every paper and criterion goes by.

A call was answered *unaided* when the dog was asked once, came promptly or slowly, and no stimulus
of any kind (level, tap, vibrate, tone) was used before that. It is the only count of compliance
there is: the share of first calls, readiness, plan, kennel, owner's report and summary all ask
here, and show beside it how often the dog came after one call in any way. A rep with the button
is a rep, never a pass: with presses counted, a dog that answers every second call by luck met the
criterion of readiness in one look of seven. What was not said is not none: a rep passes only where
"no button" was said, or no collar was fitted. Line help and a second call are no pass either,
nor is a call that the dog ignored before it came.

A rep as kept (`Rep`) and a rep in short (`RepDigest`) have these fields alike, so a session's
summary and the papers over weeks ask the same functions. Whether a rep counts at all (sure, to
check, void) is the asker's business, but for `surely_unaided`, which readiness goes by.
"""

from __future__ import annotations

from voicelog.analysis.session_digest import RepDigest
from voicelog.model import Rep

__all__ = [
    "asked",
    "came_at_once",
    "kept_still",
    "stimulated",
    "surely_unaided",
    "unaided",
    "was_asked",
]

STANDING = "steady"
"""The drill in which no call is given: the dog just stays."""


def stimulated(rep: Rep | RepDigest) -> bool:
    """Whether a stimulus of any kind was said to be used."""
    return bool(rep.levels) or rep.mode not in ("none", "unknown")


def asked(rep: Rep | RepDigest) -> bool:
    """Whether a call was heard, and what came of it was said."""
    return rep.cues > 0 and rep.outcome not in (None, "unknown")


def came_at_once(rep: Rep | RepDigest) -> bool:
    """Whether it came after one call, with or without a stimulus, and did not ignore it first."""
    return rep.cues == 1 and _complied(rep)


def unaided(rep: Rep | RepDigest) -> bool:
    """Whether a call was answered unaided: asked once, surely no stimulus, and it came. In the
    drill in which no call is given it is enough that none was and the dog stayed."""
    once = rep.cues == 1 or (rep.drill == STANDING and rep.cues == 0)
    return once and _free(rep) and _complied(rep)


def kept_still(rep: Rep | RepDigest) -> bool:
    """Whether a dog that was not called stayed unaided, among birds or gunfire."""
    return rep.cues == 0 and _free(rep) and _complied(rep)


def surely_unaided(rep: RepDigest) -> bool:
    """Whether a rep passes a criterion: unaided, and neither to check nor void."""
    return rep.state == "sure" and unaided(rep)


def was_asked(rep: RepDigest) -> bool:
    """Whether anything was asked of the dog: a call that was heard, a stimulus, or to stand."""
    return rep.cues > 0 or stimulated(rep) or rep.drill == STANDING


def _free(rep: Rep | RepDigest) -> bool:
    """Whether no button was said, or no collar was fitted."""
    return rep.mode == "none" and not rep.levels


def _complied(rep: Rep | RepDigest) -> bool:
    return rep.outcome in ("complied", "slow") and rep.failed_first is None
