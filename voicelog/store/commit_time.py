"""Times of commit: UTC, of one width, and each later than the one before.

A laptop's clock may be set back between two commits. The order of events must not follow
it, and must come out the same in every log that holds the same events, so a time is never
before, or equal to, the last one: where the clock says otherwise, it is a microsecond more.
After the last microsecond of the calendar times go on as that one and a count, so that one
false stamp, ours or a sender's, neither stops the log nor loses the order.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta

__all__ = ["COMMIT_TIME_PATTERN", "CommitClock", "commit_time"]

_LAST = "9999-12-31T23:59:59.999999Z"
"""The last time that the calendar has."""
_COUNT = 12
"""Digits of the count after it, of one width so that text sorts as times do."""

COMMIT_TIME_PATTERN = re.compile(
    rf"\d{{4}}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{{6}}Z|{re.escape(_LAST)}\+\d{{{_COUNT}}}"
)
"""Shape of a time of commit."""


def commit_time(moment: datetime) -> str:
    """A moment as text that sorts as time does; a naive one is taken as UTC."""
    aware = moment if moment.tzinfo else moment.replace(tzinfo=UTC)
    try:
        return f"{aware.astimezone(UTC).replace(tzinfo=None).isoformat(timespec='microseconds')}Z"
    except OverflowError:  # a zone that leads out of the calendar
        return f"{aware.replace(tzinfo=None).isoformat(timespec='microseconds')}Z"


class CommitClock:
    """Times, each after the last. `last` is the newest one that is there already."""

    def __init__(self, last: str | None) -> None:
        self._last = last

    def of(self, moment: datetime) -> str:
        """The time to write for something that happens at `moment`."""
        stamp = commit_time(moment)
        if self._last is not None and stamp <= self._last:
            stamp = _after(self._last)
        self._last = stamp
        return stamp

    def of_text(self, moment: str) -> str:
        """The same for a moment in ISO 8601."""
        return self.of(datetime.fromisoformat(moment))


def _after(last: str) -> str:
    """The first time after a time."""
    if last.startswith(_LAST):
        count = int(last.removeprefix(_LAST) or 0)
        return f"{_LAST}+{count + 1:0{_COUNT}d}"
    before = datetime.fromisoformat(last.removesuffix("Z"))
    return commit_time(before + timedelta(microseconds=1))
