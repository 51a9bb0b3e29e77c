"""What can go wrong on the page, one sentence each, with a code and an HTTP status.

Page and JSON tell an error in the same shape: its code, its sentence, and, where it helps,
readings to choose from.
"""

from __future__ import annotations

from collections.abc import Sequence

from voicelog.model import UsageError, VoicelogError
from voicelog.report.lock_words import LOG_CLOSED
from voicelog.report.words import another_port, clean

__all__ = [
    "AboveTopOfCollarError",
    "AccessCodeRequiredError",
    "BadRequestError",
    "EditConflictError",
    "ForbiddenError",
    "LogClosedError",
    "NoSoundError",
    "NotANoteError",
    "NotAuthenticatedError",
    "NotFoundError",
    "PortError",
    "ReviewError",
    "StrangeNameError",
    "TooLargeError",
]


class ReviewError(VoicelogError):
    """Base of everything the page refuses."""

    code = "failed"
    status = 400
    offers: tuple[str, ...] = ()


class BadRequestError(ReviewError):
    """A request that this page does not make."""

    code = "bad-request"


class ForbiddenError(ReviewError):
    """A request from somewhere else."""

    code = "forbidden"
    status = 403


class NotAuthenticatedError(ForbiddenError):
    """A browser that did not open the printed address, or did so before the last start."""

    code = "closed"

    def __init__(self) -> None:
        super().__init__(
            "This page is open only to a browser that opened the address which 'voicelog review' "
            "printed: open the newest address that stands there."
        )


class AccessCodeRequiredError(ForbiddenError):
    """Nobody has shown the access code yet."""

    code = "no-code"
    status = 401


class LogClosedError(ReviewError):
    """A request for a log that waits for its passphrase, or whose lock is being changed."""

    code = "locked"
    status = 423

    def __init__(self) -> None:
        super().__init__(LOG_CLOSED)


class TooLargeError(ReviewError):
    """A request longer than any that this page makes, or one that takes too long."""

    code = "too-large"
    status = 413


class NotFoundError(ReviewError):
    """A session, entry or dog that the log does not have, or has no longer."""

    code = "not-there"
    status = 404


class EditConflictError(ReviewError):
    """Somebody else changed it first; nothing was done."""

    code = "changed"
    status = 409

    def __init__(self, what: str, now: str) -> None:
        super().__init__(
            f"{what} was changed meanwhile and now {now}, so nothing was done: check it again."
        )
        self.what, self.now = what, now


class NotANoteError(ReviewError):
    """Words that the grammar does not have: `parts` are those of them that are no note, where the
    others are one."""

    code = "not-a-note"
    status = 422

    def __init__(self, words: str, offers: Sequence[str] = (), parts: Sequence[str] = ()) -> None:
        near = f"did you mean '{offers[0]}'?" if offers else "see 'voicelog words list'."
        found = f"I cannot read '{words}' as a note" if words else "There are no words"
        if parts:
            unread = " and ".join(f"'{one}'" for one in parts)
            found = f"I cannot read {unread} in '{words}'"
        super().__init__(f"{found}; type a note such as 'level three came': {near}")
        self.words, self.offers = words, tuple(offers)


class AboveTopOfCollarError(ReviewError):
    """Words that name a level above the top of the dog's collar, which nobody said is meant."""

    code = "above-top"
    status = 422

    def __init__(self, words: str, dog: str, level: int, top: int) -> None:
        super().__init__(
            f"Level {level} is above the top of {clean(dog)}'s collar, {top}, so nothing was kept: "
            "type the level that it was, or choose these words below to keep them all the same. If "
            "the collar goes so high, change its top under Dogs."
        )
        self.offers = (words,)


class StrangeNameError(NotANoteError):
    """A name that is none of those that could be said in the recording; it is never guessed."""

    def __init__(self, words: str, name: str, have: Sequence[str]) -> None:
        super().__init__(words)
        self.args = (
            f"'{name}' stands where a name belongs, and is none of those that could be said when "
            f"this was recorded ({', '.join(have) or 'none'}): correct it, or put the name on the "
            "roster and hear the recording again with 'voicelog rehear'.",
        )
        self.name = name


class NoSoundError(ReviewError):
    """Sound that cannot be played."""

    code = "no-sound"
    status = 404


class PortError(UsageError):
    """The address to serve at is taken, or not ours."""

    def __init__(self, host: str, port: int, reason: str) -> None:
        super().__init__(
            f"Found {host} port {port} not free ({reason}), wanted one to serve the page at; "
            f"close what uses it, or start the same command with --port {another_port(port)}."
        )
        self.host, self.port = host, port
