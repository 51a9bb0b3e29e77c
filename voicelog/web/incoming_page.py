"""Recordings, notes, bundles and backups brought to the page: received in pieces, then heard.

A piece is one request, so that no file is ever in memory and one that breaks off goes on. What came
of each is asked for again and again while there is something to hear.
"""

from __future__ import annotations

from datetime import datetime

from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from voicelog.app.incoming import (
    OffsetError,
    begin_demo,
    begin_incoming,
    demo_page,
    forget_incoming,
    incoming_files,
    keep_anyway,
    received_bytes,
    take_piece,
)
from voicelog.app.review.errors import BadRequestError, NotFoundError
from voicelog.model.incoming import IncomingFile, IncomingKind
from voicelog.report.incoming_words import begun_later_words, state_of_incoming
from voicelog.web.form_fields import given, text_of
from voicelog.web.job_desk import JobDesk, done

__all__ = ["act", "add", "begin", "demo", "hear_demo", "listed", "piece"]

_KINDS: dict[str, IncomingKind] = {"backup": "backup", "card": "card"}
_DEEDS = {"anyway": keep_anyway, "forget": forget_incoming}


def add(desk: JobDesk, request: Request) -> Response:
    """The page to which files are brought."""
    return desk.page(request, "add.html", dogs=[dog.name for dog in desk.service.log.roster().dogs])


def begin(desk: JobDesk, request: Request) -> Response:
    """Begin with a file, or go on with it; how much of it is there."""
    fields = given(request)
    dogs, size = fields.get("dogs", []), fields.get("size")
    kind = _KINDS.get(str(fields.get("kind")), "recording")
    if not isinstance(size, int) or not isinstance(dogs, list):
        raise BadRequestError("Found no size of a file; choose it again.")
    folder = desk.service.log.folder
    one = begin_incoming(
        folder,
        text_of(fields, "name"),
        size,
        stamp=text_of(fields, "stamp"),
        kind=kind,
        dogs=tuple(str(name)[:200] for name in dogs[:100]),
        at=_moment(text_of(fields, "at"), desk.service.log.now()),
    )
    return _far(desk, one)


def piece(desk: JobDesk, request: Request) -> Response:
    """Take the next piece of a file; how much of it is there then."""
    at = request.query_params.get("at", "")
    if not (at.isascii() and at.isdigit() and len(at) < 16):
        raise BadRequestError("Found no place of this piece in its file; choose the file again.")
    try:
        one = take_piece(
            desk.service.log.folder, request.path_params["id"], int(at), request.state.body
        )
    except OffsetError as error:
        return JSONResponse({"ok": True, "have": error.have, "state": "arriving"})
    if one.state == "waiting":
        desk.hearing.wake()
    return _far(desk, one)


def listed(desk: JobDesk, request: Request) -> Response:
    """All files that came, and how far each is; recordings of the voice card only where they are
    asked for."""
    desk.hearing.wake()
    folder = desk.service.log.folder
    cards = request.query_params.get("kind") == "card"
    came = [one for one in reversed(incoming_files(folder)) if (one.kind == "card") == cards]
    files = [_shown(desk, one) for one in came]
    return JSONResponse({"ok": True, "files": files})


def act(desk: JobDesk, request: Request) -> Response:
    """Take a file off the list, or add one that sounds like another all the same."""
    deed = _DEEDS.get(text_of(given(request), "do"))
    if deed is None:
        raise BadRequestError("Found a request that this page does not make; reload this page.")
    one = deed(desk.service.log.folder, request.path_params["id"])
    desk.hearing.wake()
    return _far(desk, one)


def hear_demo(desk: JobDesk, request: Request) -> Response:
    """Let the demo be heard."""
    begin_demo(desk.service.log.folder)
    desk.hearing.wake()
    return done(go="/add")


def demo(desk: JobDesk, request: Request) -> Response:
    """What was heard in the demo."""
    shown = demo_page(desk.service.log.folder)
    if not shown:
        raise NotFoundError("Found no demo that was heard yet; hear it first.")
    return desk.page(request, "demo.html", article=Markup(shown))


# --- within -----------------------------------------------------------------------------


def _far(desk: JobDesk, one: IncomingFile) -> Response:
    have = received_bytes(desk.service.log.folder, one)
    return JSONResponse({"ok": True, "id": one.id, "have": have, "state": one.state})


def _shown(desk: JobDesk, one: IncomingFile) -> dict[str, object]:
    have = received_bytes(desk.service.log.folder, one)
    page = f"/session/{one.key}" if one.key else ""
    if one.kind == "demo" and one.state == "done":
        page = "/demo"
    words, *lines = state_of_incoming(one, have).split("\n")
    return {
        "id": one.id,
        "name": f"{one.name} (the demo: invented)" if one.kind == "demo" else one.name,
        "state": one.state,
        "words": words,
        "lines": lines,
        "part": _part(one, have),
        "page": page,
        "busy": one.state in ("waiting", "hearing"),
    }


def _part(one: IncomingFile, have: int) -> float | None:
    """How far it is, 0 to 1; None where that is not known."""
    if one.state == "arriving":
        return have / one.size
    if one.state == "hearing" and one.total_s:
        return min(1.0, one.heard_s / one.total_s)
    return None


def _moment(text: str, now: datetime) -> datetime | None:
    if not text:
        return None
    try:
        began = datetime.fromisoformat(text)
        later = began.astimezone() > now
    except (ValueError, OverflowError, OSError) as error:
        raise BadRequestError(
            "Found no time, wanted a day and a time of day; choose it again."
        ) from error
    if later:
        raise BadRequestError(begun_later_words(began))
    return began
