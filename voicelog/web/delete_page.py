"""Deleting for good at the page, in two steps: what would go and be forgotten, then doing it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from hashlib import sha256

from starlette.requests import Request
from starlette.responses import Response

from voicelog.app import delete
from voicelog.app.review.errors import BadRequestError, EditConflictError, NotFoundError
from voicelog.app.session_catalog import SessionCatalog
from voicelog.app.session_choice import sessions_of_dog
from voicelog.report.deletion_words import (
    DELETE_ASIDE,
    STILL_HELD,
    dog_found_line,
    gone_line,
    leftover_line,
    named_in_settings_line,
    not_swept_line,
    session_found_line,
    sound_found_line,
)
from voicelog.report.wording.matters import at_stake_lines
from voicelog.report.words import clean
from voicelog.store.deletion import DeletionResult, leftovers
from voicelog.web.form_fields import given, text_of
from voicelog.web.job_desk import JobDesk, done

__all__ = ["delete_it", "deletion", "look_before"]


@dataclass(frozen=True, slots=True)
class PlannedDeletion:
    """What would go, a line each, and what does it."""

    lines: tuple[str, ...]
    do: Callable[[], DeletionResult]

    @property
    def seen(self) -> str:
        """Stands for what is shown: nothing else is deleted."""
        return sha256("\n".join(self.lines).encode()).hexdigest()[:20]


def deletion(desk: JobDesk, request: Request) -> Response:
    """The page with all that can be deleted."""
    catalog = desk.service.session_catalog
    catalog.refresh()
    dog = request.query_params.get("dog", "")
    names = [*catalog.dogs(), *(one.name for one in desk.service.log.roster().dogs)]
    rows = sessions_of_dog(catalog, dog) if dog else []
    return desk.page(
        request,
        "delete.html",
        dogs=list(dict.fromkeys(filter(None, names))),
        dog=dog,
        rows=rows,
        asides=len(catalog.asides()),
    )


def look_before(desk: JobDesk, request: Request) -> Response:
    """What would be gone and forgotten."""
    asked = {name: request.query_params.get(name, "")[:200] for name in _ASKED}
    planned = _planned(desk.service.session_catalog, asked)
    return desk.page(
        request, "delete_look.html", lines=planned.lines, seen=planned.seen, asked=asked
    )


def delete_it(desk: JobDesk, request: Request) -> Response:
    """Do it, if it is still what was seen."""
    fields = given(request)
    planned = _planned(desk.service.session_catalog, {n: text_of(fields, n) for n in _ASKED})
    if fields.get("sure") is not True:
        raise BadRequestError("Tick that it is to be gone for good; nothing was deleted.")
    if text_of(fields, "seen") != planned.seen:
        raise EditConflictError("What would be deleted", "is something else")
    gone = planned.do()
    told = [
        gone_line(gone.events, gone.sounds, gone.recordings),
        leftover_line(leftovers(desk.service.log.folder)),
        STILL_HELD,
        "" if gone.swept else not_swept_line(),
    ]
    return done(*told, go="/delete")


# --- within -----------------------------------------------------------------------------

_ASKED = ("what", "dog", "session", "days", "unread", "memos", "matters")


def _planned(catalog: SessionCatalog, asked: Mapping[str, str]) -> PlannedDeletion:
    catalog.refresh()
    match asked["what"]:
        case "session":
            rows = delete.find_sessions(catalog, asked["dog"], None, asked["session"])
            lines = [
                session_found_line(row.dog, row.day, row.counts.get("reps", 0), row.key)
                for row in rows
            ]
            lines += _at_stake(delete.matters_at_stake(catalog, rows))
            return PlannedDeletion(tuple(lines), lambda: delete.delete_sessions(catalog, rows))
        case "dog":
            dog = delete.find_dog(catalog, asked["dog"])
            rows = sessions_of_dog(catalog, dog.dog)
            lines = [dog_found_line(dog.dog, dog.sessions, len(dog.parts))]
            lines += _at_stake(delete.matters_at_stake(catalog, rows, whole_dog=True))
            if settings := delete.settings_that_name(catalog, dog.dog):
                lines.append(named_in_settings_line(settings.name, dog.dog))
            return PlannedDeletion(tuple(lines), lambda: delete.delete_dog(catalog, dog))
        case "sound":
            sound = delete.find_sound(
                catalog,
                _days(asked["days"]),
                unread=bool(asked["unread"]),
                memos=bool(asked["memos"]),
                matters=bool(asked["matters"]),
            )
            left = (sound.to_check, sound.with_memos, sound.with_matters)
            line = sound_found_line(len(sound.chosen), *left)
            return PlannedDeletion((line,), lambda: delete.delete_sound(catalog, sound.chosen))
        case "aside":
            out = catalog.asides()
            lines = [clean(f"{error.name}: {error.why}") for error in out.values()]
            return PlannedDeletion(
                (*lines, DELETE_ASIDE), lambda: delete.delete_recordings(catalog, list(out))
            )
        case _:
            raise NotFoundError("Found nothing of that kind to delete; go back and choose again.")


def _at_stake(at_stake: delete.MattersAtStake) -> list[str]:
    return list(at_stake_lines(at_stake.kept, at_stake.forgotten, at_stake.ceilings))


def _days(text: str) -> int:
    if not (text.isascii() and text.isdigit() and len(text) < 6):
        raise BadRequestError("Found no number of days, wanted one such as 90.")
    return int(text)
