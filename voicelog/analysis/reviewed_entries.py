"""What people have read, beside what was heard there: the data that accuracy is worked out of."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from typing import Literal

from voicelog.model import FrozenModel, Status

__all__ = [
    "OutcomeTally",
    "RecognitionOutcome",
    "ReviewedEntries",
    "ReviewedEntry",
    "ReviewedReading",
    "tallied",
]

RecognitionOutcome = Literal["right", "offered", "asked", "missed", "wrong"]
"""What became of an utterance, see `OutcomeTally`."""


class OutcomeTally(FrozenModel):
    """How a hearing does on the utterances that people have read: a count of each outcome.

    right: accepted, and it means what the person read; or left out, and the person read no
    note. offered: doubtful, with the right reading among those offered. asked: doubtful
    without it. missed: left out though it is a note. wrong: accepted as something else.
    """

    right: int = 0
    offered: int = 0
    asked: int = 0
    missed: int = 0
    wrong: int = 0

    @property
    def read(self) -> int:
        """The utterances that people have read."""
        return self.right + self.offered + self.asked + self.missed + self.wrong

    def __add__(self, other: OutcomeTally) -> OutcomeTally:
        mine, theirs = self.model_dump(), other.model_dump()
        return OutcomeTally(**{name: count + theirs[name] for name, count in mine.items()})


def tallied(outcomes: Iterable[RecognitionOutcome]) -> OutcomeTally:
    """How many there are of each outcome."""
    return OutcomeTally(**Counter[str](outcomes))


class ReviewedReading(FrozenModel):
    """What one listener took an utterance to say, and whether that means what was said."""

    listener: str
    words: str
    right: bool


class ReviewedEntry(FrozenModel):
    """An utterance that a person has read as `said`; `note`: that is a note at all.

    `status` and `heard` are what the log had without that person (None and "" where no sound
    was found: the entry was added by hand), `meant` whether that means the same; `ears` what
    each listener had.
    """

    utterance: str
    recording: str
    start_s: float
    said: str
    note: bool
    outcome: RecognitionOutcome
    status: Status | None = None
    heard: str = ""
    meant: bool = False
    ears: tuple[ReviewedReading, ...] = ()
    snr_db: float | None = None
    rms_dbfs: float | None = None


class ReviewedEntries(FrozenModel):
    """What people have read; `struck` entries were voided, which does not say whether they were
    misheard or misspoken; `unread` are sure and were left alone in recordings where others
    were read."""

    read: tuple[ReviewedEntry, ...] = ()
    struck: int = 0
    unread: int = 0

    def __add__(self, other: ReviewedEntries) -> ReviewedEntries:
        return ReviewedEntries(
            read=self.read + other.read,
            struck=self.struck + other.struck,
            unread=self.unread + other.unread,
        )
