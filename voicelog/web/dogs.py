"""Dogs on the page: their profiles, with what sounds alike pointed out before it is kept."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import Any

from voicelog.app.review.errors import BadRequestError, NotFoundError
from voicelog.app.review.review_service import ReviewService
from voicelog.app.roster import ProfileError, change_dog, name_conflicts, profile_version
from voicelog.grammar.pronunciation import NoPronunciationError
from voicelog.model import Dog
from voicelog.store import SessionFilter

__all__ = ["alike", "dog_with_version", "keep_dog", "roster_with_sessions"]


def roster_with_sessions(service: ReviewService) -> tuple[list[tuple[Dog, int]], tuple[str, ...]]:
    """Every dog with how many sessions it has, and the handlers."""
    roster = service.log.roster()
    return [
        (dog, service.session_catalog.headings(SessionFilter(dog=dog.name), limit=0).total)
        for dog in roster.dogs
    ], roster.handlers


def dog_with_version(
    service: ReviewService, dogs: Sequence[tuple[Dog, int]], name: str | None
) -> tuple[Dog, int, str]:
    """The dog of that name, how many sessions it has, and its version; an empty one for None."""
    if name is None:
        return Dog(name=""), 0, ""
    for dog, sessions in dogs:
        if dog.name == name:
            return dog, sessions, profile_version(dog)
    have = ", ".join(dog.name for dog, _ in dogs) or "none yet"
    raise NotFoundError(
        f"There is no dog '{name[:60]}' on the roster; choose one that is ({have})."
    )


def keep_dog(service: ReviewService, given: Mapping[str, Any]) -> dict[str, Any]:
    """Put a profile on the roster, if it is still as it was seen.

    `given["dog"]` names the dog and holds the fields that change; every other stays, also those
    that no form shows. `given["was"]` is the version that was seen.

    Raises:
        EditConflictError: somebody changed it meanwhile.
        BadRequestError: a field holds what it cannot.
    """
    fields = given.get("dog")
    if not isinstance(fields, dict):
        raise BadRequestError(
            "Found no fields of a profile, wanted a name and what changes; load the page again."
        )
    with _refused():
        changed = change_dog(
            service.log, str(fields.get("name", "")), fields, seen=given.get("was")
        )
    dog = changed.dog
    told = [line for line in (changed.tidied, *changed.conflicts) if line]
    return {"name": dog.name, "was": profile_version(dog), "alike": told}


def alike(service: ReviewService, given: Mapping[str, Any]) -> list[str]:
    """What a name and cue words sound like, a sentence each."""
    with _refused():
        profile = {"name": given.get("name"), "cues": given.get("cues")}
        return list(name_conflicts(service.log, profile))


@contextmanager
def _refused() -> Iterator[None]:
    """What is wrong with a profile, as an answer to the request."""
    try:
        yield
    except (ProfileError, NoPronunciationError) as error:
        raise BadRequestError(str(error)) from error
