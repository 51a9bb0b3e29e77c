"""Small wording shared by every paper, so that a number or a null reads the same in all.

Nothing here knows about sessions. What a person typed or said passes through `clean`
before it reaches a paper: control and text-direction characters could rewrite a terminal
line or make a name read as another.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Literal

from voicelog.model.day_words import date_words, day, day_month_words, month_words
from voicelog.model.names import plain_text

__all__ = [
    "NOT_SAID",
    "Face",
    "another_port",
    "at_clock",
    "clean",
    "clock",
    "clock_if_timed",
    "counted",
    "date_words",
    "day",
    "day_month_words",
    "first_call_words",
    "listed",
    "month_words",
    "numbers",
    "sentence",
    "still_to_come_words",
    "times_words",
]

Face = Literal["terminal", "page"]
"""Where a sentence is read: what is to be done differs."""
NOT_SAID = "not said"
"""What a null reads as: nobody said it, which is not the same as "no"."""


def clean(text: str) -> str:
    """The text on one line, without control, direction or zero-width characters."""
    return plain_text(text)


def another_port(port: int, apart: int = 1) -> int:
    """A port to try where `port` is not free: `apart` after it, or before it at the end of them."""
    return port + apart if port + apart < 65535 else port - apart


def clock(seconds: float) -> str:
    """Seconds (s) as minutes:seconds, "3:07"; the fraction is dropped."""
    whole = max(0, int(seconds))
    return f"{whole // 60}:{whole % 60:02d}"


def clock_if_timed(start_s: float, end_s: float) -> str:
    """`clock` of when something began (`start_s`, s); "" where it has no time: notes typed without
    any begin and end (`end_s`, s) at 0."""
    return clock(start_s) if end_s > 0 else ""


def at_clock(start_s: float, end_s: float) -> str:
    """The same within a sentence: " at 3:07", or "" where it has no time."""
    return f" at {clock(start_s)}" if end_s > 0 else ""


def counted(count: int, noun: str, plural: str | None = None) -> str:
    """A count and its noun: "1 rep", "2 reps", "2 entries". `plural`: None adds an s."""
    return f"{count} {noun if count == 1 else plural or noun + 's'}"


def times_words(count: int) -> str:
    """How often: "once", "twice", "3 times"."""
    return {1: "once", 2: "twice"}.get(count, f"{count} times")


def first_call_words(unaided: int, came: int, of: int, interval: str = "") -> str:
    """First calls in words: "unaided at the first call 6 of 10; 2 more with the button, or nothing
    said of it". `came` counts those reps too, which are no first call; `interval` is that of
    `unaided`."""
    words = f"unaided at the first call {unaided} of {of}{interval}"
    more = came - unaided
    return f"{words}; {more} more with the button, or nothing said of it" if more else words


def still_to_come_words(when: str, what: str) -> str:
    """That a day (`when`) given as `what` lies in the future."""
    return f"Found {when} as {what}, which is still to come; correct it."


def listed(parts: Iterable[str], last: str = "and") -> str:
    """Words in a row: "a", "a and b", "a, b and c"."""
    words = list(parts)
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} {last} {words[-1]}"


def numbers(noun: str, values: Sequence[int]) -> str:
    """A noun and its numbers: "rep 4", "reps 4 and 7"; empty when there are none. `values` are in
    order."""
    if not values:
        return ""
    return f"{noun if len(values) == 1 else noun + 's'} {listed(str(value) for value in values)}"


def sentence(text: str) -> str:
    """The text with a capital first letter and a full stop, where it lacks them."""
    text = text.strip()
    if not text:
        return ""
    return text[0].upper() + text[1:] + ("" if text[-1] in ".!?" else ".")
