"""The live session on the page: starting it, how it stands, what the ear said, stopping it."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from voicelog.app.listening import ListeningRequest
from voicelog.app.review.errors import BadRequestError
from voicelog.audio import microphone
from voicelog.audio.microphone import Direction, list_devices
from voicelog.model import VoicelogError
from voicelog.report.device_words import face_words, no_microphone_words
from voicelog.report.listening_words import STARTED, STOPPED, cut_short_words, state_line
from voicelog.web.form_fields import given, text_of
from voicelog.web.job_desk import JobDesk, done

__all__ = ["complete", "live", "live_state", "start", "stop"]

_SIDES, _REPLIES = ("left", "right"), ("doubtful", "all", "none")


def live(desk: JobDesk, request: Request) -> Response:
    """The page with the devices, and the state as it is now."""
    trouble = ""
    found: dict[Direction, list[str]] = {"in": [], "out": []}
    try:
        library = microphone.portaudio()
        for way, names in found.items():
            devices = sorted(list_devices(way, library), key=lambda one: not one.default)
            names += dict.fromkeys(one.name for one in devices)
    except VoicelogError as error:
        trouble = face_words(error, "page")
    if not found["in"] and not trouble:
        trouble = no_microphone_words()
    return desk.page(
        request,
        "live.html",
        trouble=trouble,
        microphones=found["in"],
        earphones=found["out"],
        dogs=[dog.name for dog in desk.service.log.roster().dogs],
        sides=_SIDES,
        replies=_REPLIES,
    )


def live_state(desk: JobDesk, request: Request) -> Response:
    """How it stands, for a page that asks again and again."""
    state = desk.live.state(desk.service.log)
    return JSONResponse(
        {
            "ok": True,
            "at_work": state.at_work,
            "busy": state.starting or state.ending,
            "words": state_line(
                at_work=state.at_work, starting=state.starting, ending=state.ending
            ),
            "lines": list(state.lines),
            "cut_short": cut_short_words(state.cut_short),
        }
    )


def start(desk: JobDesk, request: Request) -> Response:
    """Start one as the form says."""
    fields = given(request)
    dogs, side, replies = fields.get("dogs", []), text_of(fields, "side"), text_of(fields, "say")
    if side not in _SIDES or replies not in _REPLIES or not isinstance(dogs, list):
        raise BadRequestError("Found a request that this page does not make; reload this page.")
    asked = ListeningRequest(
        dogs=tuple(str(name)[:200] for name in dogs[:100]),
        device=text_of(fields, "device"),
        output=text_of(fields, "output"),
        side=side,
        replies=replies,
        earpiece=fields.get("earpiece") is True,
        who=desk.who(request),
    )
    desk.live.start(desk.service.log, asked)
    return done(STARTED)


def stop(desk: JobDesk, request: Request) -> Response:
    """End the one at work."""
    desk.live.stop()
    return done(STOPPED)


def complete(desk: JobDesk, request: Request) -> Response:
    """Complete what was cut short."""
    desk.live.resume()
    return done()
