"""How far deriving again is, and what waits: after a newer voicelog, everything is read anew."""

from __future__ import annotations

from collections.abc import Sequence

from voicelog.report.words import clean, counted, listed

__all__ = ["DERIVING", "page_waits_words", "rebuilt_words", "waiting_words"]


DERIVING = "read again with this voicelog (stopping loses nothing)"
"""Beside the bar while recordings are derived again."""


def rebuilt_words(done: int) -> str:
    """That so many recordings were worked out again."""
    return f"{counted(done, 'recording')} worked out again."


def page_waits_words(waiting: int) -> str:
    """Why a page about all dogs is not there yet: `waiting` recordings wait."""
    is_ = "is" if waiting == 1 else "are"
    return (
        f"{counted(waiting, 'recording')} {is_} being read again with this voicelog. When that is "
        "done, load this page again: it is about all dogs. The pages of each dog are there now."
    )


def waiting_words(waiting: int, dogs: Sequence[str]) -> str:
    """What waits: `waiting` recordings in which none of `dogs` was known to be worked."""
    return (
        f"{counted(waiting, 'recording')} of other dogs not yet read again with this voicelog; a "
        f"session of {clean(listed(dogs))} that was not understood there before would be missing "
        "here. 'voicelog kennel' reads them all."
    )
