"""Lines as people type them: what stands before the words, as times in one recording.

Times come in many forms, and one file has one kind of them: seconds, minutes and seconds from the
beginning, or times of day. Which it is, is asked of the whole file. What may be two things is
never guessed: it is refused with what to type. Lines without any time stand where the line before
them stands, since all that is known is their order; moments that are equal have no time between
them, so nothing that needs one is worked out.
"""

from __future__ import annotations

import codecs
import re
import unicodedata
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import time
from pathlib import Path
from typing import Literal, NamedTuple

from voicelog.model import LONGEST_S, VoicelogError
from voicelog.report.typed_words import two_things_words

__all__ = [
    "TYPED",
    "BadLine",
    "NotTextError",
    "TypedFormatError",
    "TypedLine",
    "TypedLines",
    "read_typed_lines",
]

TYPED = "typed 1"
"""Name and version of the reader of typed recordings."""
_TOP_LEVEL = 100.0
"""No transmitter has more levels, so a lone number beyond it is a time, s."""
_LATEST_BEGINNING_S = 300.0
"""A file in minutes and seconds has its first note by then; "7:42" at its head may be a time of
day (common practice, no source)."""
_DAY_S = 86400.0


class BadLine(NamedTuple):
    """A line that cannot be taken: its number in the file from 1, what is shown of it, and what is
    wrong with it and what to type, in whole sentences but for the first letter."""

    number: int
    found: str
    problem: str


class TypedFormatError(VoicelogError):
    """A typed recording at `path` of which nothing is taken, since of these lines (`bad`; where
    `more`, there are others) the time or the form cannot be."""

    def __init__(self, path: Path, bad: Sequence[BadLine], *, more: bool = False) -> None:
        self.path, self.bad = path, tuple(bad)
        first = "1 line has" if len(bad) == 1 else f"{len(bad)} lines have"
        told = [f"  Line {one.number}, '{one.found}': {one.problem}" for one in bad[:_MOST_TOLD]]
        untold = len(bad) - _MOST_TOLD
        rest = [f"  And {untold}{' or more' if more else ''} like these."] if untold > 0 else []
        super().__init__(
            "\n".join(
                [
                    f"Nothing of {path} was kept: {first} to be corrected first.",
                    *told,
                    *rest,
                ]
            )
        )

    @property
    def line(self) -> int:
        """The number of the first of them."""
        return self.bad[0].number


class NotTextError(VoicelogError):
    """A file that was to be typed notes and is no text."""


@dataclass(frozen=True, slots=True)
class TypedLine:
    """One line: its number in the file from 1, its times (s from the beginning), and its words as
    they were typed."""

    number: int
    start_s: float
    end_s: float
    words: str


@dataclass(frozen=True, slots=True)
class TypedLines:
    """The lines of a typed recording. `began` is the time of day of its beginning, where the lines
    say one; `left_out` are the numbers of those that begin with "#"."""

    lines: tuple[TypedLine, ...]
    began: time | None = None
    left_out: tuple[int, ...] = ()


_TimeKind = Literal["columns", "seconds", "lone", "two", "three", "day"]


@dataclass(frozen=True, slots=True)
class _Stamp:
    """A time as it stands in front of words: its kind and its value in seconds, as if the file
    counted from its beginning ("7:42" is 462). For "day", seconds since midnight."""

    kind: _TimeKind
    start_s: float
    end_s: float | None = None
    may_be_levels: bool = False
    """Whether nothing but what stands in the other lines says that it is a time."""


class _BadLineError(Exception):
    """A line cannot be taken."""

    def __init__(self, number: int, found: str, problem: str) -> None:
        super().__init__(problem)
        self.bad = BadLine(number, found, problem)


class _TwoThingsError(Exception):
    """Line `number` may be two things (`asked`): `ways` are what it may be and how that begins when
    typed, each before `words`. `of_all`: what it is, the times of the lines below are too."""

    def __init__(
        self,
        number: int,
        found: str,
        words: str,
        asked: str,
        ways: Mapping[str, tuple[str, ...]],
        *,
        of_all: bool = False,
    ) -> None:
        super().__init__(asked)
        self.number, self.found, self.words = number, found, words
        self.asked, self.ways, self.of_all = asked, ways, of_all


_MOST_TOLD = 8
"""Lines that cannot be taken of which each is told; of the rest, how many there are."""
_MOST_BAD = 40
"""Lines that cannot be taken that are looked for."""
_SHOWN = 60
"""Letters of a line that are shown, at most."""
_LONGEST_LINE = 1_000
"""Characters of a line, at most; a note of three reps has a fifth of it."""
_MOST_LINES = 5_000
"""Lines of a file, at most: a day has a few hundred."""
_CLOCK = r"(?P<{0}a>\d{{1,3}}):(?P<{0}b>\d\d)(?::(?P<{0}c>\d\d))?(?P<{0}f>[.,]\d+)?"
_MERIDIEM = r"(?P<{0}m>[ap])\.?m\b\.?"
_RANGE_SIGN = r"\s*(?:-|–|—|to)\s*"
_SEPARATOR = r"(?:\s*[-–—:;,|)\]]+(?=\s|$)\s*|\s*[,;|]\s*|\s+|$)"
_COLUMNS = tuple(
    re.compile(rf"(\d+(?:\.\d+)?){between}(\d+(?:\.\d+)?){between}(?=\D)")
    for between in (r"\s*[,;|]\s*", r"\s+")
)
_TIMES = re.compile(
    rf"{_CLOCK.format('s')}(?:\s*{_MERIDIEM.format('s')})?"
    rf"(?:{_RANGE_SIGN}{_CLOCK.format('e')}(?:\s*{_MERIDIEM.format('e')})?)?{_SEPARATOR}",
    re.IGNORECASE,
)
_HOUR = re.compile(
    rf"(?P<a>\d{{1,2}})(?:\.(?P<b>\d\d))?\s*{_MERIDIEM.format('')}{_SEPARATOR}", re.IGNORECASE
)
_UNITS = re.compile(
    rf"(?:(\d+)\s*(?:m|min)\s*)?(\d+(?:[.,]\d+)?)\s*(?:s|sec|secs|seconds)\b\.?{_SEPARATOR}",
    re.IGNORECASE,
)
_NUMBER = re.compile(rf"(\d+(?:[.,]\d+)?)(?P<after>{_SEPARATOR})")
_TIME_BEGUN = re.compile(r"\d+:\S*")
_BULLET = re.compile(
    r"(?:[-–—*+•‣◦▪●○·∙‧>]|\[[ xX]?\]|☐|☑|✓|✔|\d{1,3}[.)](?=\s+\D))\s+|[•‣◦▪●○·∙]\s*"
)
_BRACKETS = re.compile(r"[\[(]\s*([\d:.,]+(?:\s*[ap]\.?m\.?)?)\s*[\])]", re.IGNORECASE)


def read_typed_lines(
    path: Path, data: bytes, names_stimulus: Callable[[str], bool] = lambda words: False
) -> TypedLines:
    """The lines of a file. Empty ones and those that begin with "#" are passed over.

    Args:
        path: the file, for what is said of it.
        data: its content: UTF-8, or UTF-16 with its mark.
        names_stimulus: whether words say what the thumb did, so that a number before them is no
            level.

    Raises:
        TypedFormatError: with every line whose time cannot be, goes back, or may be two things.
    """
    raws = _text(path, data).splitlines()
    _check_size(path, raws)
    bad: list[BadLine] = []
    while len(bad) < _MOST_BAD:
        try:
            read = _read(raws, names_stimulus)
        except _BadLineError as error:
            bad.append(error.bad)
        except _TwoThingsError as unclear:
            bad.append(_asked(raws, names_stimulus, unclear))
            if unclear.of_all:
                break
        else:
            if not bad:
                return read
            break
        raws[bad[-1].number - 1] = ""
    bad.sort()
    raise TypedFormatError(path, bad, more=len(bad) == _MOST_BAD)


def _asked(
    raws: Sequence[str], names_stimulus: Callable[[str], bool], unclear: _TwoThingsError
) -> BadLine:
    """With the whole line to type for each thing that it may be. What is shown was tried: a time
    that the other lines do not allow is not."""
    place = unclear.number - 1

    def taken(line: str) -> bool:
        """Whether it goes with the lines above, and with those below as far as they are clear."""
        until = [*raws[:place], line]
        for lines in (until, [*until, *raws[place + 1 :]]):
            try:
                _read(lines, names_stimulus)
            except _TwoThingsError as later:
                if later.number <= unclear.number and later.of_all == unclear.of_all:
                    return False
            except _BadLineError as error:
                if error.bad.number <= unclear.number:
                    return False
        return True

    told: list[tuple[str, Sequence[str]]] = []
    for meant, beginnings in unclear.ways.items():
        lines = [f"{beginning} {unclear.words}" for beginning in beginnings]
        told.append((meant, [_short(line) for line in lines if taken(line)]))
    return BadLine(unclear.number, unclear.found, two_things_words(unclear.asked, told))


def _short(line: str) -> str:
    return line if len(line) <= _SHOWN else f"{line[:_SHOWN]}..."


def _check_size(path: Path, raws: Sequence[str]) -> None:
    """Raises TypedFormatError."""
    if len(raws) > _MOST_LINES:
        raise TypedFormatError(
            path,
            [
                BadLine(
                    _MOST_LINES + 1,
                    raws[_MOST_LINES][:40],
                    f"a file has at most {_MOST_LINES:,} lines; share it out.",
                )
            ],
        )
    if any(len(raw) > _LONGEST_LINE for raw in raws):
        raise TypedFormatError(
            path,
            [
                BadLine(
                    number,
                    raw[:40],
                    f"a line has at most {_LONGEST_LINE:,} characters; share it out.",
                )
                for number, raw in enumerate(raws, start=1)
                if len(raw) > _LONGEST_LINE
            ],
        )


def _read(raws: Sequence[str], names_stimulus: Callable[[str], bool]) -> TypedLines:
    stamped: list[_Stamped] = []
    left_out: list[int] = []
    for number, raw in enumerate(raws, start=1):
        line = _visible(raw)
        if line.startswith("#"):
            left_out.append(number)
        elif line.strip():
            stamp, words = _parted(number, line)
            stamped.append((number, line.strip()[:_SHOWN], stamp, words))

    plain = (words for _, _, stamp, words in stamped if stamp is not None and stamp.may_be_levels)
    _check_plain(stamped, any(map(names_stimulus, plain)))
    began, seconds = _on_one_scale(stamped)
    lines: list[TypedLine] = []
    now_s, above = 0.0, 0
    for (number, found, stamp, words), at in zip(stamped, seconds, strict=True):
        start_s, end_s = (now_s, now_s) if at is None else at
        if not 0 <= start_s <= end_s < LONGEST_S:
            raise _BadLineError(number, found, "it ends before it begins; correct it.")
        if stamp is not None and stamp.kind != "columns" and start_s < now_s:
            raise _BadLineError(
                number, found, f"this time is before that of line {above}; correct one of the two."
            )
        if stamp is not None:
            above = number
        now_s = start_s
        lines.append(TypedLine(number, start_s, end_s, words))
    return TypedLines(tuple(lines), began, tuple(left_out))


def _text(path: Path, data: bytes) -> str:
    encoding = "utf-8-sig"
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        encoding = "utf-16"
    try:
        return data.decode(encoding)
    except UnicodeDecodeError as error:
        raise NotTextError(
            f"{path} is not plain text (UTF-8), so nothing of it was kept; save it as UTF-8."
        ) from error


# --- one line -----------------------------------------------------------------------------


def _parted(number: int, line: str) -> tuple[_Stamp | None, str]:
    """The time in front of a line, if there is one, and the words after it as they stand."""
    fields = line.split("\t")
    if len(fields) >= 3:
        try:
            times = float(fields[0]), float(fields[1])
        except ValueError:
            pass
        else:
            return _Stamp("columns", *times), " ".join(fields[2:]).strip()
    text = line
    while (bullet := _BULLET.match(text)) is not None:
        text = text[bullet.end() :]
    if (match := _BRACKETS.match(text)) is not None:
        text = f"{match[1]} {text[match.end() :]}"
    for columns in _COLUMNS:
        if (match := columns.match(text)) is not None:
            whole = match[0].replace(" ", "").isdecimal() and "\t" not in line
            pair = _Stamp("columns", float(match[1]), float(match[2]), may_be_levels=whole)
            return pair, text[match.end() :].strip()
    for pattern, stamp_of in ((_TIMES, _of_clock), (_HOUR, _of_hour), (_UNITS, _of_units)):
        if (match := pattern.match(text)) is not None:
            stamp = stamp_of(match)
            if stamp is None:
                break
            return stamp, text[match.end() :].strip()
    if _TIME_BEGUN.match(text):
        raise _BadLineError(
            number, text[:_SHOWN], "this is not a time; write it as 0:10, 0:07:42 or 7:42 am."
        )
    if (match := _NUMBER.match(text)) is not None:
        value = float(match[1].replace(",", "."))
        plain = "." not in match[1] and match["after"].isspace() and "\t" not in line
        words = text[match.end() :].strip()
        if words:
            return _Stamp("lone" if plain else "seconds", value, may_be_levels=plain), words
    return None, text


def _visible(line: str) -> str:
    """A line without what cannot be seen: marks of no width go, blanks of every kind are one."""
    kinds = [(letter, unicodedata.category(letter)) for letter in line]
    return "".join(" " if kind == "Zs" else one for one, kind in kinds if kind != "Cf").strip(" ")


def _of_clock(match: re.Match[str]) -> _Stamp | None:
    start = _clock(match, "s")
    end = _clock(match, "e") if match["ea"] else None
    if start is None or (match["ea"] and end is None):
        return None
    return _Stamp(start[0], start[1], end[1] if end else None)


def _clock(match: re.Match[str], which: str) -> tuple[_TimeKind, float] | None:
    parts = [int(match[which + part] or 0) for part in "abc"]
    fraction = float((match[which + "f"] or ".0").replace(",", "."))
    three = match[which + "c"] is not None
    if parts[1] > 59 or parts[2] > 59:
        return None
    if match[which + "m"]:
        hour = _hour(parts[0], match[which + "m"])
        return None if hour is None else ("day", hour * 3600 + parts[1] * 60 + parts[2] + fraction)
    if three:
        return "three", parts[0] * 3600 + parts[1] * 60 + parts[2] + fraction
    return "two", parts[0] * 60 + parts[1] + fraction


def _of_hour(match: re.Match[str]) -> _Stamp | None:
    hour, minute = _hour(int(match["a"]), match["m"]), int(match["b"] or 0)
    return None if hour is None or minute > 59 else _Stamp("day", hour * 3600 + minute * 60)


def _hour(hour: int, half: str) -> int | None:
    """The hour of 24 of one of 12, in the morning or not."""
    return hour % 12 + (12 if half.casefold() == "p" else 0) if 1 <= hour <= 12 else None


def _of_units(match: re.Match[str]) -> _Stamp | None:
    return _Stamp("seconds", int(match[1] or 0) * 60 + float(match[2].replace(",", ".")))


# --- the whole file -----------------------------------------------------------------------

_Stamped = tuple[int, str, _Stamp | None, str]
"""A line: its number, what is shown of it, its time, its words."""
_Timed = tuple[int, str, _Stamp, str]
_Span = tuple[float, float]


def _on_one_scale(
    stamps: Sequence[_Stamped],
) -> tuple[time | None, list[_Span | None]]:
    """All times as seconds from the beginning, and the time of day of that, if they are such."""
    timed = [
        (number, found, stamp, words) for number, found, stamp, words in stamps if stamp is not None
    ]
    if not timed:
        return None, [None] * len(stamps)
    by_day = any(stamp.kind == "day" for _, _, stamp, _ in timed)
    clocks = [one for one in timed if one[2].kind in ("two", "three")]
    if not by_day and clocks:
        by_day = _of_day(clocks, timed[0][2] is clocks[0][2])
    if not by_day:
        return None, [None if stamp is None else _span(stamp) for _, _, stamp, _ in stamps]
    halves = any(stamp.kind == "day" for _, _, stamp, _ in timed)
    spans: list[_Span | None] = []
    first: float | None = None
    now_s = 0.0
    for number, found, stamp, _ in stamps:
        if stamp is None:
            spans.append(None)
            continue
        start_s, end_s = _since_midnight(stamp)
        if start_s is None:
            raise _BadLineError(
                number,
                found,
                "the other lines have times of day, this one has not; correct it.",
            )
        if first is None and halves and stamp.kind != "day":
            raise _BadLineError(
                number, found, "say whether the first time of day is am or pm: add it."
            )
        if stamp.kind != "day":  # no "am" or "pm": that of the lines above
            while start_s < now_s and start_s + _DAY_S / 2 < _DAY_S:
                start_s += _DAY_S / 2
                end_s = None if end_s is None else end_s + _DAY_S / 2
        now_s = start_s
        first = start_s if first is None else first
        spans.append((start_s - first, (start_s if end_s is None else end_s) - first))
    whole = int(first or 0.0)
    return time(whole // 3600 % 24, whole // 60 % 60, whole % 60), spans


def _span(stamp: _Stamp) -> _Span:
    return stamp.start_s, stamp.start_s if stamp.end_s is None else stamp.end_s


def _since_midnight(stamp: _Stamp) -> tuple[float | None, float | None]:
    if stamp.kind in ("columns", "seconds", "lone"):
        return None, None
    scale = 60 if stamp.kind == "two" else 1
    end_s = None if stamp.end_s is None else stamp.end_s * scale
    return stamp.start_s * scale, end_s


def _of_day(clocks: Sequence[_Timed], from_first: bool) -> bool:
    """Whether times without "am" or "pm" are times of day."""
    number, found, first, words = clocks[0]
    if first.kind == "three":
        if first.start_s < 3600:
            return False
        if first.start_s >= 4 * 3600:
            return True
    elif (
        not from_first
        or len(clocks) == 1
        or first.start_s < _LATEST_BEGINNING_S
        or any(one.kind == "two" and one.start_s >= 24 * 60 for _, _, one, _ in clocks)
    ):
        return False
    minutes, second = divmod(int(first.start_s), 60)
    whole: tuple[int, ...] = (minutes, second)
    counted = f"0:{minutes:02d}:{second:02d}"
    if first.kind == "three":
        whole, counted = (minutes // 60, minutes % 60, second), f"{minutes}:{second:02d}"
    hour, *rest = whole
    after = "".join(f":{one:02d}" for one in rest)
    halves = ("pm",) if hour > 12 else ("am", "pm")
    raise _TwoThingsError(
        number,
        found,
        words,
        f"is {hour}{after} a time of day, or does it count from the beginning",
        {
            "a time of day": tuple(f"{hour % 12 or 12}{after} {half}" for half in halves),
            "a time from the beginning": (counted,),
        },
        of_all=True,
    )


def _check_plain(stamps: Sequence[_Stamped], own_level: bool) -> None:
    """One or two plain numbers in front may be seconds or levels. They are times where all lines
    have some, none goes back, and one is beyond any level or the words say what the thumb did."""
    plain = [one for one in stamps if one[2] and one[2].may_be_levels]
    if not plain:
        return
    values = [one.start_s for _, _, one, _ in stamps if one is not None]
    column = len(values) == len(stamps) and values == sorted(values)
    if column and (own_level or values[-1] > _TOP_LEVEL):
        return
    number, found, one, words = plain[0]
    assert one is not None  # a plain number is a time
    first = f"{one.start_s:g}"
    if one.end_s is None:
        asked = f"is {first} a time or a level"
        ways = {"a time": (f"{first} s",), "a level": (f"level {first}",)}
    else:
        second = f"{one.end_s:g}"
        asked = f"are {first} and {second} times or levels"
        ways = {"times": (f"{first}, {second},",), "levels": (f"level {first} up to {second}",)}
    raise _TwoThingsError(number, found, words, asked, ways)
