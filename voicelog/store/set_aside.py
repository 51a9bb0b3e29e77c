"""A recording that cannot be read or derived is set aside: named with its reason, and passed by.

A newer program, or one made to do harm, may leave what this one does not understand. That must
cost one recording, not the whole log, and it must be said each time, since a session that is
not counted may hold the sign that a rule should have seen.
"""

from __future__ import annotations

from pydantic import ValidationError

from voicelog.model import VoicelogError
from voicelog.store.errors import LogError

__all__ = ["SetAsideError", "UnreadableRecordingError", "reason"]

_LONGEST = 160
"""Characters of a reason, at most; what is in it may come from anywhere."""


class SetAsideError(VoicelogError):
    """A recording that is not counted, since it does not derive; `why` is the reason."""

    def __init__(self, name: str, why: str) -> None:
        super().__init__(
            f"{name} is set aside and counts nowhere ({why}): look for a newer voicelog, or take "
            "it back from a backup."
        )
        self.name, self.why = name, why


class UnreadableRecordingError(LogError):
    """A recording of which the log's own row, or an event, is not as this program knows it."""

    def __init__(self, name: str, why: str) -> None:
        super().__init__(
            f"{name} is in the log and cannot be read ({why}): look for a newer voicelog, or take "
            "it back from a backup."
        )
        self.name, self.why = name, why


def reason(error: Exception) -> str:
    """Why something did not derive, as the part of a sentence. `error` is what deriving raised."""
    match error:
        case SetAsideError() | UnreadableRecordingError():
            why = error.why
        case ValidationError():
            first = error.errors(include_url=False)[0]
            place = " ".join(map(str, first["loc"])) or "it"
            if first["type"] == "extra_forbidden":
                why = f"'{place}' is not known to this voicelog; a newer one may have written it"
            else:
                found = repr(first.get("input"))[:40]
                why = f"{place} is {found}: {first['msg'].removeprefix('Value error, ')}"
        case VoicelogError():
            why = str(error).rstrip(".")
        case OverflowError():
            why = "it holds a time beyond the calendar"
        case _:
            why = f"{type(error).__name__}: {error}"
    return why if len(why) <= _LONGEST else f"{why[:_LONGEST]}..."
