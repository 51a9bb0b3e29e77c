"""How far deriving again is, and what waits: after a newer voicelog, everything is read anew."""

from __future__ import annotations

from voicelog.report.words import clean, counted

__all__ = ["deriving_words", "waiting_words"]


def deriving_words(number: int, total: int, left_s: float) -> str:
    """How far it is: `number` of `total` recordings, with some `left_s` seconds left."""
    left = f"{left_s / 60:.0f} minutes" if left_s > 90 else f"{max(1, left_s):.0f} s"
    return (
        f"read anew with this voicelog: {number} of {total} recordings, some {left} left; "
        "stopping loses nothing."
    )


def waiting_words(waiting: int, dog: str) -> str:
    """What waits: `waiting` recordings in which `dog` was not worked when they were read last."""
    return (
        f"{counted(waiting, 'recording')} of other dogs not yet read anew with this voicelog; a "
        f"session of {clean(dog)} that was not understood there before would not be told here. "
        "'voicelog kennel' reads them all."
    )
