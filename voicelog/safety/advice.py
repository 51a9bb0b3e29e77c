"""What is advised for the next time a session is over: a dog that growls, snaps or bites has said
so.

Then no rule may advise a drill, an easier rep or a good last one. What every finding advises
from there on is `SESSION_OVER_ADVICE`, unless it is about the dog's body or the record itself
(`Rule.stands`).

No finding names a level that is never to be passed, nor says that the plan has one: it knows one
session, and the plan, which knows all of them, may have another, or none.
"""

from __future__ import annotations

__all__ = [
    "PROFESSIONAL",
    "SESSION_OVER_ADVICE",
    "STOP_NOW_ADVICE",
    "is_session_over_advice",
]

PROFESSIONAL = "a veterinarian or a licensed behaviour professional"
"""Whom to ask."""

SESSION_OVER_ADVICE = (
    "After a growl, a snap or a bite the session is over: thumb off, no more work that day, with "
    f"the button or without. Give the dog room until it is calm. Ask {PROFESSIONAL} before the "
    "next session."
)

STOP_NOW_ADVICE = f"Stop there. {SESSION_OVER_ADVICE}"
"""The same to work that goes on all the same: told apart from the sign itself."""


def is_session_over_advice(advice: str) -> bool:
    """Whether a finding's advice is one of these two."""
    return advice in (SESSION_OVER_ADVICE, STOP_NOW_ADVICE)
