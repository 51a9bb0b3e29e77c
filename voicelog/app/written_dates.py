"""Dates and times as people write them, read strictly: what may be two days is never guessed.

The libraries that read dates so (dateutil, dateparser) take "03/04/2026" for one of its two days
in silence and fill in what was not said; here both would be wrong records, so this is code of our
own, and small.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable
from datetime import date, datetime, time, timedelta
from typing import NamedTuple

from voicelog.model import UsageError

__all__ = ["UnclearDateError", "WrittenTime", "read_day", "read_moment"]

_A_DAY = "a day such as yesterday, 24 Nov or 2026-11-24"
_A_MOMENT = "a day and a time such as 'yesterday 7:42' or '24 Nov 7:42'"
"""What to write. Each is said in ways that differ, so that none is copied as it stands."""
_WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
_MONTHS = (
    "january", "february", "march", "april", "may", "june", "july", "august", "september",
    "october", "november", "december",
)  # fmt: skip
_TIME = re.compile(
    r"(?:^|\s)(?:at\s+)?(?:(\d{1,2}):(\d\d)(?::(\d\d))?|(\d{1,2})(?:\.(\d\d))?(?=\s*[ap]\.?m))"
    r"\s*([ap]\.?m\b\.?)?(?:\s|$)"
)
_YEAR_FIRST = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})")
_TWO_AND_YEAR = re.compile(r"(\d{1,2})([-/.])(\d{1,2})(?:\2(\d{4})?)?")
_LATELY = timedelta(days=31)
"""How far back the day of a moment may be without its year."""
_AGO = re.compile(r"(\d{1,3}) days? ago")


class UnclearDateError(UsageError):
    """A date that is none, or may be two. `found` is what was written for `option`, and
    `wanted` what to write."""

    def __init__(self, found: str, option: str, wanted: str) -> None:
        super().__init__(f"'{found}' is not clear for {option}; type {wanted}.")
        self.found, self.option = found, option


class WrittenTime(NamedTuple):
    """A moment that was written: naive where it names no zone. `reckoned`: it was reckoned from
    today, or its year was not written, so that it should be said back."""

    moment: datetime
    reckoned: bool


_Refuse = Callable[[str], UnclearDateError]


def read_day(text: str, today: date, option: str = "--day") -> tuple[date, bool]:
    """A day as it was written, and whether it was reckoned as in `WrittenTime`.

    Args:
        text: such as "2026-11-24", "24 Nov", "24.11.2026", "yesterday", "last Tuesday".
        today: the day it is.
        option: what it was written for, for what is refused.

    Raises:
        UnclearDateError: it is no day, or may be two ("03/04/2026", "Tuesday" on a Tuesday).
    """
    try:
        return date.fromisoformat(text.strip()), False
    except ValueError:
        pass

    def refuse(wanted: str) -> UnclearDateError:
        return UnclearDateError(text, option, wanted)

    found = _day(_plain(text), today, refuse)
    if found is None:
        raise refuse(_A_DAY)
    return found


def read_moment(text: str, now: datetime, option: str = "--at") -> WrittenTime:
    """A day and time as they were written; without a time it is midnight.

    Args:
        text: as for `read_day`, with a time before or after it ("7:42", "7:42 pm", "7pm").
        now: the time it is.
        option: what it was written for.

    Raises:
        UnclearDateError: as `read_day`; the time cannot be; or no year was written, and the last
            such day is more than a month back.
    """
    try:
        return WrittenTime(datetime.fromisoformat(text.strip()), reckoned=False)
    except ValueError:
        pass

    def refuse(wanted: str) -> UnclearDateError:
        return UnclearDateError(text, option, wanted)

    plain = _plain(text)
    match = _TIME.search(plain)
    at = time()
    if match is not None:
        plain = f"{plain[: match.start()]} {plain[match.end() :]}".strip()
        at = _time_of_day(match, refuse)
    found = _day(" ".join(plain.split()), now.date(), refuse)
    if found is None:
        raise refuse(_A_MOMENT)
    day, reckoned = found
    without_year = reckoned and not _counted_back(plain)
    if without_year and now.date() - day > _LATELY:
        known = f"its year too if it was {day:%A}, {day.day} {day:%b %Y}, or the right day"
        coming = (now.date() - day).days > _LATELY.days + 300  # so that of this year is near
        raise refuse(f"{known} (that of this year is still to come)" if coming else known)
    return WrittenTime(datetime.combine(day, at), reckoned)


def _counted_back(text: str) -> bool:
    """Whether a plain text counts days back from today, so that it has no year to be written."""
    return (
        "today" in text or "yesterday" in text or _AGO.fullmatch(" ".join(text.split())) is not None
    )


def _plain(text: str) -> str:
    """Lower case, single blanks, without commas and the ends of "24th" and "Nov."."""
    text = unicodedata.normalize("NFKC", text).casefold().replace(",", " ")
    text = re.sub(r"(?<=\d)(?:st|nd|rd|th)\b", "", text)
    text = re.sub(r"(?<=[a-z])\.(?=\s|$)", "", re.sub(r"\b([ap])\.m\b\.?", r"\1m", text))
    return " ".join(word for word in text.split() if word not in ("on", "of", "the"))


def _time_of_day(match: re.Match[str], refuse: _Refuse) -> time:
    hour, minute = int(match[1] or match[4]), int(match[2] or match[5] or 0)
    half = match[6]
    if half and 1 <= hour <= 12:
        hour = hour % 12 + (12 if half.startswith("p") else 0)
    elif half:
        hour = 24  # "13 pm" is no hour
    try:
        return time(hour, minute, int(match[3] or 0))
    except ValueError:
        raise refuse("a time of day such as 7:42, 19:42 or 7:42 pm") from None


def _day(text: str, today: date, refuse: _Refuse) -> tuple[date, bool] | None:
    """The day of a plain text, and whether it was reckoned; None where it is none."""
    days = {"today": 0, "yesterday": 1, "day before yesterday": 2}
    if (ago := _AGO.fullmatch(text)) is not None:
        days[text] = int(ago[1])
    if text in days:
        return today - timedelta(days=days[text]), True
    if (weekday := _weekday(text, today, refuse)) is not None:
        return weekday, True
    first, _, rest = text.partition(" ")
    if rest and _begun(first, _WEEKDAYS) is not None:  # "Tue 24 Nov": the weekday has to be right
        found = _day(rest, today, refuse)
        if found is not None and found[0].weekday() != _begun(first, _WEEKDAYS):
            raise refuse(f"the weekday of that day ({found[0]:%A}), or another day")
        return found
    numbers = _in_numbers(text, refuse)
    day, month, year = numbers or _in_words(text) or (0, 0, None)
    if not month:
        return None
    try:
        if year is not None:
            return date(year, month, day), False
        return _latest(day, month, today), True
    except ValueError:
        raise refuse("a day that the calendar has") from None


def _weekday(text: str, today: date, refuse: _Refuse) -> date | None:
    """The last day of that name before today; None where the text is none."""
    last = text.startswith("last ")
    place = _begun(text.removeprefix("last "), _WEEKDAYS)
    if place is None:
        return None
    back = (today.weekday() - place) % 7
    if not back and not last:
        name = _WEEKDAYS[place].capitalize()
        raise refuse(f"today or last {name}, since today is one")
    return today - timedelta(days=back or 7)


def _in_numbers(text: str, refuse: _Refuse) -> tuple[int, int, int | None] | None:
    if (match := _YEAR_FIRST.fullmatch(text)) is not None:
        return int(match[3]), int(match[2]), int(match[1])
    if (match := _TWO_AND_YEAR.fullmatch(text)) is None:
        return None
    one, other, year = int(match[1]), int(match[3]), match[4]
    if match[2] == "." or one > 12 or one == other:  # with points the day comes first
        return one, other, int(year) if year else None
    if other > 12:
        return other, one, int(year) if year else None
    first, second = (
        f"{year}-{month:02d}-{day:02d}" if year else f"{day} {_MONTHS[month - 1][:3].capitalize()}"
        for day, month in ((one, other), (other, one))
    )
    if not (one >= 1 and other >= 1):
        return one, other, int(year) if year else None
    raise refuse(f"{first} or {second}, since either may be the month")


def _in_words(text: str) -> tuple[int, int, int | None] | None:
    """Day, month and year of "24 nov 2026" or "nov 24"."""
    words = text.split()
    if len(words) not in (2, 3) or not all(word.isascii() for word in words):
        return None
    year = words.pop() if len(words) == 3 else None
    day, month = words if words[0].isdigit() else reversed(words)
    place = _begun(month, _MONTHS)
    if place is None or not re.fullmatch(r"\d{1,2}", day):
        return None
    if year is not None and not re.fullmatch(r"\d{4}", year):
        return None
    return int(day), place + 1, None if year is None else int(year)


def _latest(day: int, month: int, today: date) -> date:
    """The last such day up to today."""
    for year in range(today.year, today.year - 9, -1):
        try:
            found = date(year, month, day)
        except ValueError:
            if (month, day) != (2, 29):
                raise
            continue
        if found <= today:
            return found
    raise ValueError("no such day")


def _begun(word: str, names: tuple[str, ...]) -> int | None:
    """The place of the name that a word is, or begins with three letters or more."""
    if len(word) < 3:
        return None
    return next((i for i, name in enumerate(names) if name.startswith(word)), None)
