"""Words of the question about a name that the log does not know."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from voicelog.report.words import clean, clock, counted, listed

__all__ = ["StrangeName", "StrangeNamePlace", "strange_name_lines"]


@dataclass(frozen=True, slots=True)
class StrangeNamePlace:
    """A typed line with the name: the session's id, its dog and day (None: not known), the
    entry's id, when it begins (s in the recording), and the line as it was typed."""

    session: str
    dog: str
    day: date | None
    entry: str
    at_s: float
    typed: str


@dataclass(frozen=True, slots=True)
class StrangeName:
    """A name that the log does not know, where it stands, and the dogs it may be, likest first."""

    name: str
    places: tuple[StrangeNamePlace, ...]
    known: tuple[str, ...]


def strange_name_lines(found: Sequence[StrangeName]) -> tuple[str, ...]:
    """One question for each name, with all its places and how to answer; nothing without any.
    `found` are the names."""
    lines: list[str] = []
    for one in found:
        name = clean(one.name)
        times = counted(len(one.places), "time")
        lines.append(f"'{name}' is a dog that the log does not know ({times}). Who is it?")
        lines += [
            f"  {clean(place.dog) or 'no dog named'}, {place.day or 'no date'}, "
            f"{clock(place.at_s)}: '{clean(place.typed)}'"
            for place in one.places
        ]
        known = listed(map(clean, one.known), last="or")
        lines.append(f"  {known}? voicelog questions --name {name} --is NAME" if known else "")
        lines.append(
            f"  A new dog: voicelog dogs put {name.title()}, and then voicelog rehear for these."
        )
    return tuple(lines)
