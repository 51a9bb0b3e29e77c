"""Words of the question about a name that the log does not know, and of its answer."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from voicelog.grammar.strange_names import NameKind
from voicelog.report.words import clean, counted, date_words, listed

__all__ = [
    "StrangeName",
    "StrangeNamePlace",
    "answered_lines",
    "place_words",
    "strange_name_lines",
    "strange_name_words",
]

_MOST = 8
"""Names on offer for one that is not known."""


@dataclass(frozen=True, slots=True)
class StrangeNamePlace:
    """A line with the name: the recording's id, its session's dog and day (None: not known), the
    entry's id, when it begins in the recording ("" where it has no time), and the line as it was
    typed; or, where it was spoken, as it was read with another name, and in `sound` the phones of
    the name."""

    recording: str
    dog: str
    day: date | None
    entry: str
    at: str
    said: str
    sound: str = ""


@dataclass(frozen=True, slots=True)
class StrangeName:
    """A name that the log does not know and what it is the name of, where it stands, and what it
    may be, likest first."""

    name: str
    kind: NameKind
    places: tuple[StrangeNamePlace, ...]
    known: tuple[str, ...]


_NEW: Mapping[NameKind, str] = {
    "dog": "A new dog: voicelog dogs put {title}",
    "handler": "A new handler: voicelog dogs handler {title}",
    "cue": "A new cue: voicelog dogs put DOG --cue {name}, with the cues it has",
}


def strange_name_lines(found: Sequence[StrangeName]) -> tuple[str, ...]:
    """One question for each name, with all its places and how to answer; nothing without any.
    `found` are the names."""
    lines: list[str] = []
    for one in found:
        name = clean(one.name)
        quoted = name if name.isalnum() else f'"{name}"'
        spoken = any(place.sound for place in one.places)
        listen = " Listen on the page: voicelog review" if spoken else ""
        lines.append(f"{strange_name_words(one)}{listen}")
        lines += [f"  {place_words(place)}" for place in one.places]
        known = listed(map(clean, one.known[:_MOST]), last="or")
        if known:
            lines.append(f"  {known}? voicelog questions --name {quoted} --is NAME")
        title = "NAME" if spoken else quoted.title()
        new = _NEW[one.kind].format(title=title, name=quoted)
        answer = quoted if one.kind == "cue" else title
        lines.append(f"  {new}; then voicelog questions --name {quoted} --is {answer}")
    return tuple(lines)


def strange_name_words(one: StrangeName) -> str:
    """The question about a name, without its places."""
    name, times = clean(one.name), counted(len(one.places), "time")
    who = "Which is it" if one.kind == "cue" else "Who is it"
    if any(place.sound for place in one.places):
        return (
            f"A {one.kind} was named aloud ({times}) whose name was not surely one of the log's; "
            f"it sounded like '{name}'. {who}?"
        )
    return f"'{name}' is a {one.kind} that the log does not know ({times}). {who}?"


def answered_lines(
    found: StrangeName, meant: str, changed: Sequence[StrangeNamePlace]
) -> tuple[str, ...]:
    """What an answer changed: the lines that are notes with the name `meant`, and how many still
    wait."""
    lines = [f"{place_words(place)} is read with '{clean(meant)}' now." for place in changed]
    left = len(found.places) - len(changed)
    if left:
        lines.append(
            f"{counted(left, 'line')} with '{clean(found.name)}' {'is' if left == 1 else 'are'} "
            "no note with it either; correct with 'voicelog correct'."
        )
    return tuple(lines)


def place_words(place: StrangeNamePlace) -> str:
    day = date_words(place.day) if place.day else "no date"
    at = f"{day}{f', {place.at}' if place.at else ''}"
    if place.sound:
        return f"{at}: heard as '{clean(place.said)}' (entry {place.entry})"
    return f"{clean(place.dog) or 'no dog named'}, {at}: '{clean(place.said)}'"
