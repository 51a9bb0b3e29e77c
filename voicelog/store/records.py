"""What the log hands back: a recording as it was kept, and a row of the cache."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any, NamedTuple, Self

from pydantic import Field

from voicelog.model import FrozenModel, Moment, Roster, Seconds, Severity, SoundLevel
from voicelog.model.names import Name, name_key

__all__ = ["SHA256", "CacheHeading", "CacheRow", "Recording", "RecordingFile", "StoredRecording"]

SHA256 = r"[0-9a-f]{64}"
"""Shape of a hash wherever one names a file: lower-case hexadecimal."""


class Recording(FrozenModel):
    """A recording to be kept, with what held when it was heard.

    `id` is what its events call it: the sha256 of its bytes for a file, an id of its own for
    sound still being recorded, whose sha256 comes with `Log.finish_recording`. `sound` is
    the path of the kept file relative to the log's folder. `started_at` is naive where its
    zone is not known, and None where nothing is.
    """

    id: str = Field(min_length=1)
    sha256: str | None = Field(default=None, pattern=f"^{SHA256}$")
    file_name: str = ""
    sound: str | None = None
    started_at: Moment | None = None
    duration_s: Seconds = 0.0
    level: SoundLevel = SoundLevel()
    dog: Name | None = None
    """The dog that was named for the whole recording, when one was."""
    roster: Roster = Roster()
    settings: Mapping[str, Any] = {}
    """Settings as JSON values, whole, as they were."""
    listeners: tuple[str, ...] = ()
    grammar: str = ""

    def spelt(self, spellings: Mapping[str, str]) -> Self:
        """The same with dogs named as they are here; `spellings` maps a `name_key` to a name."""
        dog = self.dog and spellings.get(name_key(self.dog), self.dog)
        return self.model_copy(update={"dog": dog, "roster": self.roster.spelt(spellings)})


class StoredRecording(Recording):
    """A recording in the log. Not `complete`: its adding was cut short, or is under way."""

    added_at: Moment
    complete: bool


class RecordingFile(NamedTuple):
    """What the row of a recording says of its file, without the rest; fields as in `Recording`."""

    id: str
    file_name: str
    sound: str | None
    listeners: tuple[str, ...]


class CacheHeading(FrozenModel):
    """What a list needs of something derived, without its body.

    `moment` orders a dog's rows: wall time without a zone. `stale`: something that the row
    depends on beside its own events has changed, so it is to be derived again.
    """

    key: str = Field(min_length=1)
    """A session's id, or the recording's own."""
    recording: str
    dog: str | None = None
    day: date | None = None
    moment: datetime = datetime.min
    worst: Severity | None = None
    counts: Mapping[str, int] = {}
    words: str = ""
    """What a search should find beside the dog, lower case."""
    stale: bool = False


class CacheRow(CacheHeading):
    """Something derived from one recording's events, good while `stamp` is what it was.

    `stamp` is the caller's: `Log.event_seq` and whatever else the result depends on.
    """

    stamp: str
    trace: str = ""
    """What later rows of the same dog depend on; when it changes, they go stale."""
    digest: str = ""
    """The same in short, for who reads many; it can be had without the body."""
    matters: str = ""
    """The matters that it leaves a person to close, as JSON; empty where there are none."""
    body: str = ""
    """JSON text; what is in it is the caller's business."""
