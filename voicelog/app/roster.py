"""The roster: a dog's profile changed as a person gives it, and names that sound like others."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from hashlib import sha256
from typing import Any

from pydantic import ValidationError

from voicelog.app.grammars import grammar_with
from voicelog.app.review.errors import EditConflictError
from voicelog.grammar.name_conflicts import dog_name_conflicts, handler_name_conflicts
from voicelog.model import Dog, Roster, UsageError
from voicelog.model.names import LONGEST_NAME, name_key, name_skeleton, tidy_name
from voicelog.report.roster_words import (
    born_later_words,
    ceiling_above_words,
    heard_as_words,
    looks_alike_words,
    no_meaning_words,
    no_name_words,
    no_such_cue_words,
    slash_words,
    tidied_words,
)
from voicelog.store import Log

__all__ = [
    "ANY_VERSION",
    "ChangedProfile",
    "ProfileError",
    "add_handler",
    "change_dog",
    "name_conflicts",
    "profile_version",
    "remove_dog",
    "remove_handler",
]

ANY_VERSION = object()
"""Stands for every version of a profile: it is changed however it reads now."""


class ProfileError(UsageError):
    """A field of a profile that holds what it cannot."""


@dataclass(frozen=True, slots=True)
class ChangedProfile:
    """A profile as it was put on the roster."""

    dog: Dog
    conflicts: tuple[str, ...]
    """What its name and cue words sound like, a sentence each."""
    tidied: str = ""
    """That its name is kept otherwise than it was typed, in a sentence; empty where it is not."""


def change_dog(
    log: Log, name: str, changes: Mapping[str, Any], *, seen: object = ANY_VERSION
) -> ChangedProfile:
    """Put a dog on the roster, or change what is given of one that is there.

    Args:
        name: the dog, without regard to letter case.
        changes: fields of `Dog`, which are laid over what is known; every other stays, also of
            the transmitter.
        seen: the `profile_version` that the person saw, empty for none.

    Raises:
        ProfileError: a field holds what it cannot, or a new name looks like one that is there.
        EditConflictError: the profile is another one than was seen; nothing was changed.
        NoPronunciationError: a name or cue cannot be pronounced.
    """
    roster = log.roster()
    known = roster.dog(name)
    dog = _validated(
        _laid_over(known.model_dump(), changes) if known else {"name": name, **changes}
    )
    dog = _with_meanings_of_its_cues(dog, given="cue_meanings" in changes)
    if seen is not ANY_VERSION and seen != profile_version(known):
        is_now = "reads otherwise" if seen else "is on the roster already"
        raise EditConflictError(f"The profile of {dog.name}", is_now)
    if known is None:
        _check_new_name(dog.name, [other.name for other in roster.dogs])
    _check_bounds(log, dog, changes)
    conflicts = _conflicts(dog, roster)
    log.put_dog(dog)
    tidied = tidied_words(dog.name) if known is None and dog.name != name else ""
    return ChangedProfile(dog, conflicts, tidied)


def name_conflicts(log: Log, profile: Mapping[str, Any]) -> tuple[str, ...]:
    """What a name and cue words (fields of `Dog`) sound like, a sentence each; nothing is kept.

    Raises:
        ProfileError, NoPronunciationError: as `change_dog`.
    """
    return _conflicts(_validated(profile), log.roster())


def _conflicts(dog: Dog, roster: Roster) -> tuple[str, ...]:
    return tuple(map(heard_as_words, dog_name_conflicts(dog, roster, grammar_with(Roster()))))


def profile_version(dog: Dog | None) -> str:
    """Stands for what a profile says: equal for equal ones, empty for none. `dog`: None where there
    is no profile."""
    return "" if dog is None else sha256(dog.model_dump_json().encode()).hexdigest()[:20]


def add_handler(log: Log, name: str) -> tuple[str, ...]:
    """Put a handler's name on the roster; what it sounds like, a sentence each.

    Raises:
        NoPronunciationError: it cannot be pronounced.
        ProfileError: there is none, it is too long, or it looks like one that is there.
    """
    roster = log.roster()
    name = tidy_name(name)
    if not name or len(name) > LONGEST_NAME:
        raise ProfileError(no_name_words(len(name)))
    if name_key(name) not in map(name_key, roster.handlers):
        _check_new_name(name, roster.handlers)
    found = handler_name_conflicts(name, roster, grammar_with(Roster()))
    conflicts = tuple(map(heard_as_words, found))
    log.put_handler(name)
    return conflicts


def remove_dog(log: Log, name: str) -> None:
    """Take a dog off the roster; its sessions stay. Raises as `Log.remove_dog` does."""
    log.remove_dog(name)


def remove_handler(log: Log, name: str) -> None:
    """Take a handler's name off the roster. Raises as `Log.remove_handler` does. `log` keeps older
    versions of the roster."""
    log.remove_handler(name)


def _laid_over(known: Mapping[str, Any], given: Mapping[str, Any]) -> dict[str, Any]:
    """What is known with what is given laid over it, parts of parts too (the transmitter's)."""
    laid = {
        name: _laid_over(known[name], value)
        if isinstance(value, dict) and isinstance(known.get(name), dict)
        else value
        for name, value in given.items()
    }
    return {**known, **laid}


def _validated(fields: Mapping[str, Any]) -> Dog:
    try:
        dog = Dog.model_validate(fields)
    except ValidationError as error:
        first = error.errors()[0]
        if first["loc"][0] == "cue_meanings":
            raise ProfileError(no_meaning_words()) from error
        places = [_PLACES.get(one, one) for one in first["loc"] if isinstance(one, str)]
        place = " ".join(places) or "profile"
        raise ProfileError(
            f"Found {first['input']!r:.60} for the {place.replace('_', ' ')}, wanted "
            f"{_wanted(first['msg'])}; correct it."
        ) from error
    if not dog.name.strip():
        raise ProfileError("The name is empty; type the one that the dog is called by.")
    return dog


def _wanted(message: str) -> str:
    """What is wanted in place of what was given, from what the validator says of it."""
    for said, plain in _PLAIN:
        message = re.sub(said, plain, message)
    return message


_PLACES = {"cutoff_s": "cutoff", "reached": "stages reached"}
_PLAIN = (
    (r"^Value error, ", ""),
    (r"^Input should be ", ""),
    (r"^greater than or equal to (\S+)$", r"\1 or more"),
    (r"^less than or equal to (\S+)$", r"\1 or less"),
    (r"^greater than (\S+)$", r"more than \1"),
    (r"^less than (\S+)$", r"less than \1"),
)


def _with_meanings_of_its_cues(dog: Dog, *, given: bool) -> Dog:
    """Without the meaning of a cue that it has no longer; refused where that was just `given`."""
    others = [one.cue for one in dog.cue_meanings if one.cue not in dog.cues]
    if given and others:
        raise ProfileError(no_such_cue_words(others[0], dog.cues))
    if not others:
        return dog
    kept = tuple(one for one in dog.cue_meanings if one.cue in dog.cues)
    return dog.model_copy(update={"cue_meanings": kept})


def _check_new_name(name: str, others: Iterable[str]) -> None:
    """Refuse a name that nobody can say or tell from another: papers are found by it."""
    if "/" in name or "\\" in name:
        raise ProfileError(slash_words(name))
    drawn = name_skeleton(name)
    for other in others:
        if drawn and name_skeleton(other) == drawn and name_key(other) != name_key(name):
            raise ProfileError(looks_alike_words(name, other))


def _check_bounds(log: Log, dog: Dog, changes: Mapping[str, Any]) -> None:
    """Refuse what is given and cannot be; what an older profile holds already may stay."""
    if "born" in changes and dog.born is not None and dog.born > log.now().date():
        raise ProfileError(born_later_words(dog.born))
    top = dog.transmitter.top
    given = "ceiling" in changes or "transmitter" in changes
    if given and top is not None and dog.ceiling is not None and dog.ceiling > top:
        raise ProfileError(ceiling_above_words(dog.ceiling, top))
