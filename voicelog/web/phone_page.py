"""The phone as recorder, from the page at the laptop: opened, its codes to scan shown, closed."""

from __future__ import annotations

from hashlib import sha256
from io import BytesIO

import segno
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from voicelog.app.phone_process import PhonePlace
from voicelog.app.review.errors import NotFoundError
from voicelog.report.phone_words import (
    CLOSED_FOR_PHONES,
    NOT_OPEN,
    OPENING_FOR_PHONES,
    phone_state_words,
)
from voicelog.web.form_fields import given, text_of
from voicelog.web.job_desk import JobDesk, done, require_this_machine

__all__ = ["code_picture", "phone", "phone_state", "start", "stop"]


def phone(desk: JobDesk, request: Request) -> Response:
    """The page."""
    return desk.page(request, "phone_desk.html", dogs=bool(desk.service.log.roster().dogs))


def phone_state(desk: JobDesk, request: Request) -> Response:
    """How it stands, for a page that asks again and again."""
    state = desk.phone.state()
    place = state.place
    words = phone_state_words(
        at_work=state.at_work,
        starting=state.starting,
        ending=state.ending,
        live=place is not None and place.live,
    )
    shown = None
    if place is not None:
        shown = {
            "page": place.page,
            "trust": place.trust,
            "fingerprint": place.fingerprint,
            "code": place.code,
            "picture": _number(place),
        }
    return JSONResponse(
        {
            "ok": True,
            "at_work": state.at_work,
            "busy": state.starting or state.ending,
            "words": words,
            "place": shown,
            "lines": list(state.lines),
        }
    )


def code_picture(desk: JobDesk, request: Request) -> Response:
    """The square code that a phone scans: first what makes it trust this machine, then what joins
    it."""
    place, which = desk.phone.state().place, request.path_params["which"]
    if place is None or which not in ("trust", "join"):
        raise NotFoundError(NOT_OPEN)
    drawn = BytesIO()
    target = place.trust if which == "trust" else place.joining
    segno.make(target, error="m").save(drawn, kind="svg", scale=6, border=4, light="#fff")
    return Response(drawn.getvalue(), media_type="image/svg+xml")


def start(desk: JobDesk, request: Request) -> Response:
    """Open it for phones, at this computer itself: from then on this machine can be reached."""
    require_this_machine(request)
    fields = given(request)
    desk.phone.start(
        live=fields.get("live") is True,
        earpiece=fields.get("earpiece") is True,
        address=text_of(fields, "address"),
    )
    return done(OPENING_FOR_PHONES)


def stop(desk: JobDesk, request: Request) -> Response:
    """Close it."""
    require_this_machine(request)
    desk.phone.stop()
    return done(CLOSED_FOR_PHONES)


def _number(place: PhonePlace) -> str:
    """What changes with the code, and does not tell it."""
    return sha256(place.joining.encode()).hexdigest()[:8]
