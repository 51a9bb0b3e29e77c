"""A day and a time as a person reads them, for whoever speaks of one: papers, rules, messages.

Everything on a screen and on paper has this one form; exports and what is kept have ISO 8601.
"""

from __future__ import annotations

from datetime import date, datetime

__all__ = ["date_words", "day", "day_month_words", "month_words"]

_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def day(moment: datetime) -> str:
    """A date and time without regard to the machine's language: "Tue 24 Nov 2026, 16:05". `moment`
    is in the zone where it was read. Its first minute stands for a day alone: nobody works a dog at
    midnight, and a date that was given without a time is kept so (common practice, no source)."""
    date = f"{_DAYS[moment.weekday()]} {moment.day} {_MONTHS[moment.month - 1]} {moment.year}"
    timed = moment.hour or moment.minute
    return f"{date}, {moment.hour}:{moment.minute:02d}" if timed else date


def date_words(moment: date | None) -> str:
    """A day without regard to the machine's language: "3 May 2031"; a `moment` of None is a day
    not known."""
    if moment is None:
        return "a day not known"
    return f"{moment.day} {_MONTHS[moment.month - 1]} {moment.year}"


def day_month_words(moment: date) -> str:
    """A day without its year: "3 May". `moment` is known."""
    return f"{moment.day} {_MONTHS[moment.month - 1]}"


def month_words(moment: date) -> str:
    """The month of a day: "May". `moment` is known."""
    return _MONTHS[moment.month - 1]
