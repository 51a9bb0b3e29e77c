"""What became of a file in a folder that is watched, as codes."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from voicelog.model.adding import AddedFile

__all__ = ["DatedBy", "FileDating", "WatchOutcome", "WatchedFile"]

WatchOutcome = Literal[
    "heard", "there", "asked", "grown", "cut", "conflict", "no recording", "deleted", "waits"
]
"""It was heard into the log; its bytes were there; it sounds like one that is there; it goes on
where what was taken in under this name ended; it holds less than it announces; its name is that of
a copy which a sync program made; it is no recording that can be read; it was deleted from the log;
it could not be taken in now and is tried again."""

DatedBy = Literal["tags", "name", "name's day", "file time", "nothing"]
"""What a recording's start was taken from. "name's day": the name has a day and no time of day."""


@dataclass(frozen=True, slots=True)
class FileDating:
    """When a recording began and what says so. `started_at` is None by "nothing", naive where the
    zone is not known, midnight by "name's day"."""

    started_at: datetime | None
    by: DatedBy


@dataclass(frozen=True, slots=True)
class WatchedFile:
    """What became of one file.

    name: its path within the folder.
    added: where it was heard, what came of it.
    dating: where it was heard, its start.
    reason: where it was not, what was wrong, as a sentence; else empty.
    """

    name: str
    outcome: WatchOutcome
    added: AddedFile | None = None
    dating: FileDating | None = None
    reason: str = ""
