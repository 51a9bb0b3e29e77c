"""When a recording was started, as far as its own tags say so.

A file's modification time is never used: copying changes it. A date without a time of day
is not believed, nor is exactly midnight (how date-only tags are padded), a year before
2000 (a recorder whose clock was never set) or one that no recording can be of.

What the time means is up to whoever wrote it. Some phones stamp the moment the recording
was saved, not begun; where that matters, ask the person.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import UTC, datetime, time

from voicelog.model import PLAUSIBLE_YEARS

__all__ = ["started_at"]

_WHEN = re.compile(
    r"\s*(\d{4})[-_:./ ](\d\d)[-_:./ ](\d\d)"
    r"(?:T|\s+)(\d\d)[-_:. ](\d\d)(?:[-_:. ](\d\d)(?:[.,]\d+)?)?"
    r"\s*(Z|[+-]\d\d:?\d\d)?\s*",
    re.IGNORECASE,
)


def started_at(tags: Mapping[str, str], *, zone_is_utc: bool = False) -> datetime | None:
    """The start as the tags give it, or None. Tag names are compared without case.

    Aware where the tag names its zone, or where the format defines it: MP4 and Matroska
    write `creation_time` with a Z, and ID3v2.4 says that all time stamps are UTC (pass
    `zone_is_utc`). Naive, the recorder's own clock, for the rest: Broadcast Wave
    origination, Vorbis comments and RIFF tags without a zone.
    """
    known = {name.lower(): value for name, value in tags.items()}
    candidates = (
        known.get("com.apple.quicktime.creationdate", ""),  # local time with its zone
        known.get("creation_time", ""),
        # Broadcast Wave has two tags, and FFmpeg has had two names for each of them.
        f"{known.get('origination_date', '')} {known.get('origination_time', '')}",
        f"{known.get('date', '')} {known.get('creation_time', '')}",
        known.get("date", ""),
    )
    for text in candidates:
        when = _read(text)
        if when is not None:
            return when.replace(tzinfo=UTC) if zone_is_utc and when.tzinfo is None else when
    return None


def _read(text: str) -> datetime | None:
    match = _WHEN.fullmatch(text)
    if match is None:
        return None
    year, month, day, hour, minute, second, zone = match.groups()
    try:
        when = datetime.fromisoformat(
            f"{year}-{month}-{day}T{hour}:{minute}:{second or '00'}{(zone or '').upper()}"
        )
    except ValueError:
        return None
    believed = when.year >= 2000 and when.year in PLAUSIBLE_YEARS and when.time() != time.min
    return when if believed else None
