"""Dogs at the page: their profiles, with what sounds alike pointed out before it is kept."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from hashlib import sha256
from typing import Any

from pydantic import ValidationError

from voicelog.app.review.errors import BadRequestError, EditConflictError, NotFoundError
from voicelog.app.review.review_service import ReviewService
from voicelog.grammar.name_conflicts import dog_name_conflicts
from voicelog.grammar.pronunciation import NoPronunciationError
from voicelog.model import Dog, Roster
from voicelog.store import SessionFilter

__all__ = ["alike", "dog_with_version", "keep_dog", "roster_with_sessions"]


def roster_with_sessions(desk: ReviewService) -> tuple[list[tuple[Dog, int]], tuple[str, ...]]:
    """Every dog with how many sessions it has, and the handlers."""
    roster = desk.log.roster()
    return [
        (dog, desk.session_catalog.headings(SessionFilter(dog=dog.name), limit=0).total)
        for dog in roster.dogs
    ], roster.handlers


def dog_with_version(
    desk: ReviewService, dogs: Sequence[tuple[Dog, int]], name: str | None
) -> tuple[Dog, int, str]:
    """The dog of that name, how many sessions it has, and its version; an empty one for None."""
    if name is None:
        return Dog(name=""), 0, ""
    for dog, sessions in dogs:
        if dog.name == name:
            return dog, sessions, _version(dog)
    have = ", ".join(dog.name for dog, _ in dogs) or "none yet"
    raise NotFoundError(f"Found no dog '{name[:60]}' on the roster, wanted one of it ({have}).")


def keep_dog(desk: ReviewService, given: Mapping[str, Any]) -> dict[str, Any]:
    """Put a profile on the roster, if it is still as it was seen.

    `given["dog"]` names the dog and holds the fields that change; every other stays, also those
    that no form shows.

    Raises:
        ChangedError: somebody changed it meanwhile.
        BadRequestError: a field holds what it cannot.
    """
    fields = _fields(given.get("dog"))
    roster = desk.log.roster()
    known = roster.dog(str(fields.get("name", "")))
    dog = _dog(_over(known.model_dump(), fields) if known else fields)
    now = _version(known) if known else ""
    if given.get("was") != now:
        is_now = "is on the roster already" if not given.get("was") else "reads otherwise"
        raise EditConflictError(f"The profile of {dog.name}", is_now)
    warned = _clashes(dog, roster)
    desk.log.put_dog(dog)
    return {"name": dog.name, "was": _version(dog), "alike": warned}


def alike(desk: ReviewService, given: Mapping[str, Any]) -> list[str]:
    """What a name and cue words sound like, a sentence each."""
    dog = _dog({"name": given.get("name"), "cues": given.get("cues")})
    return _clashes(dog, desk.log.roster())


def _clashes(dog: Dog, roster: Roster) -> list[str]:
    try:
        return list(dog_name_conflicts(dog, roster))
    except NoPronunciationError as error:
        raise BadRequestError(str(error)) from error


def _fields(given: object) -> dict[str, Any]:
    if not isinstance(given, dict):
        raise BadRequestError(
            "Found no fields of a profile, wanted a name and what changes; load the page again."
        )
    return given


def _over(known: Mapping[str, Any], given: Mapping[str, Any]) -> dict[str, Any]:
    """What is known with what is given laid over it, parts of parts too (the transmitter's)."""
    laid = {
        name: _over(known[name], value)
        if isinstance(value, dict) and isinstance(known.get(name), dict)
        else value
        for name, value in given.items()
    }
    return {**known, **laid}


def _dog(fields: object) -> Dog:
    try:
        dog = Dog.model_validate(fields)
    except ValidationError as error:
        first = error.errors()[0]
        place = " ".join(map(str, first["loc"])).replace("_", " ") or "the profile"
        raise BadRequestError(
            f"Found {first['input']!r:.60} for {place}, but "
            f"{first['msg'].removeprefix('Value error, ')}; correct it."
        ) from error
    if not dog.name.strip():
        raise BadRequestError("Found no name, wanted the one the dog is called by; type it.")
    return dog


def _version(dog: Dog) -> str:
    return sha256(dog.model_dump_json().encode()).hexdigest()[:20]
