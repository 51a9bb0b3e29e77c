"""Deleting for good on the page, in two steps: what would go and be forgotten, then doing it."""

from __future__ import annotations

from collections.abc import Mapping

from starlette.requests import Request
from starlette.responses import Response

from voicelog.app.deletion_plan import (
    PlannedDeletion,
    asides_to_delete,
    dog_to_delete,
    lines_of_gone,
    sessions_to_delete,
    sound_to_delete,
)
from voicelog.app.review.errors import BadRequestError, EditConflictError, NotFoundError
from voicelog.app.session_catalog import SessionCatalog
from voicelog.app.session_choice import sessions_of_dog
from voicelog.report.changes import changes_elsewhere
from voicelog.report.deletion_words import named_in_settings_line, not_swept_line
from voicelog.web.form_fields import given, text_of
from voicelog.web.job_desk import JobDesk, done

__all__ = ["delete_it", "deletion", "look_before"]


def deletion(desk: JobDesk, request: Request) -> Response:
    """The page with all that can be deleted."""
    catalog = desk.service.session_catalog
    catalog.refresh(())
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
    lines = [*planned.lines]
    if planned.settings is not None:
        lines.append(named_in_settings_line(planned.settings.name, planned.dog))
    return desk.page(request, "delete_look.html", lines=lines, seen=planned.seen, asked=asked)


def delete_it(desk: JobDesk, request: Request) -> Response:
    """Do it, if it is still what was seen."""
    fields = given(request)
    planned = _planned(desk.service.session_catalog, {n: text_of(fields, n) for n in _ASKED})
    if fields.get("sure") is not True:
        raise BadRequestError("Tick that it is to be gone for good; nothing was deleted.")
    if text_of(fields, "seen") != planned.seen:
        raise EditConflictError("What would be deleted", "is something else")
    with desk.service.session_catalog.noting() as noted:
        gone = planned.do()
    told = (*lines_of_gone(desk.service.log.folder, gone), *changes_elsewhere(noted))
    return done(*told, "" if gone.swept else not_swept_line(), go="/delete")


# --- within -----------------------------------------------------------------------------

_ASKED = ("what", "dog", "session", "days", "unread", "memos", "matters")


def _planned(catalog: SessionCatalog, asked: Mapping[str, str]) -> PlannedDeletion:
    catalog.refresh()
    match asked["what"]:
        case "session":
            return sessions_to_delete(catalog, asked["dog"], None, asked["session"])
        case "dog":
            return dog_to_delete(catalog, asked["dog"])
        case "sound":
            return sound_to_delete(
                catalog,
                _days(asked["days"]),
                unread=bool(asked["unread"]),
                memos=bool(asked["memos"]),
                matters=bool(asked["matters"]),
            )
        case "aside":
            return asides_to_delete(catalog)
        case _:
            raise NotFoundError("Found nothing of that kind to delete; go back and choose again.")


def _days(text: str) -> int:
    if not (text.isascii() and text.isdigit() and len(text) < 6):
        raise BadRequestError("Found no number of days, wanted one such as 90.")
    return int(text)
