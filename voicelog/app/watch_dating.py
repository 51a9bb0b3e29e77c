"""When a recording began that nobody said it of: by its tags, else its name, else its file's time.

A name is read strictly, year first: "03-04-2026" may be two days, and four digits after a day may
be a counter as well as a time. The file's time is the last resort, since copying may change it;
whoever is told a date is told what it comes from.
"""

from __future__ import annotations

import re
import unicodedata
from datetime import datetime, timedelta

from voicelog.model import PLAUSIBLE_YEARS
from voicelog.model.watching import FileDating

__all__ = ["file_dating"]

_DAY = re.compile(r"(?<!\d)(\d{4})([-_. ]?)(\d\d)\2(\d\d)(?=\d{6}(?:\d{3})?(?!\d)|(?!\d))")
_TIME = re.compile(
    r"(?:[-_. ,T]|at)*"
    r"(?:(\d\d)(\d\d)(\d\d)(?:\d{3})?|(\d\d?)[-_.:h](\d\d)(?:[-_.:m](\d\d))?)(?!\d)\s*([ap]m\b)?",
    re.IGNORECASE,
)


def file_dating(
    tagged: datetime | None, name: str, changed: datetime, duration_s: float, now: datetime
) -> FileDating:
    """The start of a recording, and what says so.

    Args:
        tagged: the start that its tags give, if any.
        name: the file's name.
        changed: when the file was last changed, aware; a recorder's last write is the end of the
            sound.
        duration_s: how long it is, s.
        now: the time it is, aware; what would begin more than a day later is not believed.
    """
    if tagged is not None:
        return FileDating(tagged, "tags")
    named = _named(name, now)
    if named is not None and named.by == "name":
        return named
    began = changed - timedelta(seconds=duration_s)
    believed = began.year in PLAUSIBLE_YEARS and began.year >= 2000 and began <= now + _AHEAD
    if named is not None and named.started_at is not None:
        same_day = believed and began.date() == named.started_at.date()
        return FileDating(began, "file time") if same_day else named
    return FileDating(began, "file time") if believed else FileDating(None, "nothing")


_AHEAD = timedelta(days=1)


def _named(name: str, now: datetime) -> FileDating | None:
    """The first day in a name that can be, with the time of day that follows it."""
    name = unicodedata.normalize("NFKC", name)
    for found in _DAY.finditer(name):
        try:
            day = datetime(int(found[1]), int(found[3]), int(found[4]))
        except ValueError:
            continue
        if day.year < 2000 or day.year not in PLAUSIBLE_YEARS:
            continue
        if day > now.replace(tzinfo=None) + _AHEAD:
            continue
        time = _TIME.match(name, found.end())
        at = None if time is None else _at(day, time)
        return FileDating(day, "name's day") if at is None else FileDating(at, "name")
    return None


def _at(day: datetime, time: re.Match[str]) -> datetime | None:
    """The day at the time that was found; None where there is no such time."""
    hour, minute = int(time[1] or time[4]), int(time[2] or time[5])
    second, half = int(time[3] or time[6] or 0), (time[7] or "").casefold()
    if half and not 1 <= hour <= 12:
        return None
    if half:
        hour = hour % 12 + (12 if half == "pm" else 0)
    try:
        return day.replace(hour=hour, minute=minute, second=second)
    except ValueError:
        return None
