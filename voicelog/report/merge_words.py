"""What came of taking a backup or a bundle into the log, in words."""

from __future__ import annotations

from pathlib import Path

from voicelog.report.words import clean, counted
from voicelog.store.merge import MergeResult

__all__ = ["left_out_words", "merged_words"]


def merged_words(done: MergeResult) -> str:
    """What was taken in, and what of it had been deleted here. `done` is the result of the
    merge."""
    said = (
        f"{counted(done.recordings, 'new recording')}, {counted(done.events, 'new event')}, "
        f"{counted(done.sounds, 'file')} of sound or typed notes."
    )
    if done.dogs:
        said += f" New on the roster: {clean(', '.join(done.dogs))}."
    if done.deleted:
        said += f" {counted(done.deleted, 'event')} left out that had been deleted here."
    return said


def left_out_words(done: MergeResult, path: Path) -> str:
    """What of the file at `path` was not taken in, and why, in one sentence. `done` is the result
    of the merge."""
    each = "; ".join(f"{name} ({why})" for name, why in done.left_out)
    return clean(
        f"Left out, since this voicelog cannot work with it: {each}; it is still in {path.name}, "
        "look for a newer voicelog to take it in."
    )
