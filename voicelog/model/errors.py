"""The errors that end a command with one sentence."""

from __future__ import annotations

__all__ = ["UsageError", "VoicelogError"]


class VoicelogError(Exception):
    """Something the user can mend, said in one sentence: found, wanted, what to try."""

    exit_code = 1


class UsageError(VoicelogError):
    """The command was called in a way that cannot work."""

    exit_code = 2
