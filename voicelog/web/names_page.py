"""Names that the log does not know, on the page: each once, with its places, and whose it is."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response

from voicelog.app.unknown_names import answer_name, strange_names
from voicelog.report.changes import changes_elsewhere
from voicelog.report.wording.unknown_names import place_words, strange_name_words
from voicelog.web.form_fields import given, text_of
from voicelog.web.job_desk import JobDesk, done

__all__ = ["answer", "names"]


def names(desk: JobDesk, request: Request) -> Response:
    """The page with a question for each name, of what this program has derived and what is new."""
    catalog = desk.service.session_catalog
    catalog.refresh(())
    shown = [
        (
            one,
            strange_name_words(one),
            [(place.recording, place_words(place)) for place in one.places],
        )
        for one in strange_names(catalog)
    ]
    return desk.page(request, "names.html", names=shown)


def answer(desk: JobDesk, request: Request) -> Response:
    """Say whose a name is, for all lines with it."""
    fields = given(request)
    catalog = desk.service.session_catalog
    with catalog.noting() as noted:
        told = answer_name(
            catalog,
            text_of(fields, "name"),
            text_of(fields, "is"),
            desk.who(request),
            desk.service.log.now,
        )
        catalog.refresh(())
    return done(*told, *changes_elsewhere(noted))
