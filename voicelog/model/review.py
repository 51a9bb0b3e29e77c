"""Codes of the review: what a person can do to an entry, and why an entry is to be checked."""

from __future__ import annotations

from typing import Literal

__all__ = ["CheckCause", "Do", "ReviewReason"]

Do = Literal[
    "confirm", "read", "void", "restore", "move", "add", "answer", "clock", "dog", "undo", "redo"
]

ReviewReason = Literal[
    "rests: stop",
    "rests: caution",
    "rests: remark",
    "strong sign",
    "contact or skin",
    "level",
    "stimulus",
    "edit",
    "session",
    "equipment",
    "outcome",
    "sign",
    "condition",
    "other",
]
"""What hangs on an entry to check: a finding that rests on it, or what it may have said."""

CheckCause = Literal[
    "heard", "heard quickly", "typed", "beyond top", "under lowest", "follows unread", "whose"
]
"""Why an entry is to check: it was not heard for sure, or not by the quick recognizer alone, which
asks more; it is no note as typed; it names a level above the top of the dog's collar, or below its
lowest; it takes something back after a typed line that was not understood; it is not sure whose it
is."""
