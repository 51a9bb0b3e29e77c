"""How far a long work has come, in words: the hearing of a file, the deriving of recordings."""

from __future__ import annotations

from voicelog.report.words import clock, counted

__all__ = ["LOADING", "done_words", "heard_words"]

LOADING = "getting ready"
"""Beside the bar until the first sound is heard."""


def heard_words(done_s: float, total_s: float | None) -> str:
    """How much is heard, beside the bar: "1:20 of 2:25 heard".

    Args:
        done_s: seconds of sound heard.
        total_s: of how many; None where the file does not say.
    """
    of = "" if total_s is None else f" of {clock(total_s)}"
    return f"{clock(done_s)}{of} heard"


def done_words(done: int, total: int) -> str:
    """How many recordings are done, beside the bar: "12 of 40 recordings"."""
    return f"{done} of {counted(total, 'recording')}"
