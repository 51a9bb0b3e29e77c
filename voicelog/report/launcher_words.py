"""What is said of the launcher in the desktop's menu."""

from __future__ import annotations

__all__ = ["COMMENT", "GENERIC_NAME", "launcher_words", "no_launcher_words"]

GENERIC_NAME = "Training log"
COMMENT = "Hear, read and correct the log of your dogs' training"


def launcher_words(path: str) -> str:
    """That the launcher is at `path`, and how it goes again."""
    return f"voicelog is in your menu now: {path}. Delete that to take it out again."


def no_launcher_words(why: str) -> str:
    """That no launcher could be made."""
    return f"Found no way to put a launcher into the menu ({why}); start 'voicelog review' instead."
