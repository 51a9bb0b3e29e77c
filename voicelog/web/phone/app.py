"""What is served to a phone: its page, which anybody may load, and the place where sound goes, for
those that have joined. And, without encryption, what a phone needs to trust this machine."""

from __future__ import annotations

import base64
import contextlib
import json
from collections.abc import Callable, Collection, Mapping, Sequence
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path
from typing import Any, Protocol

from markupsafe import Markup
from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, Response
from starlette.routing import Route

from voicelog.app.phone_sound import (
    BlockGapError,
    BlockMismatchError,
    NoRoomError,
    PhoneSound,
    SoundBlock,
)
from voicelog.app.review.errors import ForbiddenError
from voicelog.model import PLAUSIBLE_YEARS, VoicelogError
from voicelog.report.phone_words import NOT_JOINED, PAGE_WORDS
from voicelog.web.phone.passes import PhonePasses
from voicelog.web.responses import page
from voicelog.web.security import SecurityMiddleware

__all__ = ["PhoneReplies", "PhoneReply", "make_phone_app", "make_trust_app"]

CLOCKS_APART = timedelta(seconds=5)
"""By how much two clocks may differ for a block on its way to account for it."""
STATIC = Path(__file__).with_name("static")
_SCRIPTS = (
    *("phone.js", "store.js", "sender.js", "capture.js", "answers.js", "worklet.js"),
    "offline.js",
)
ANSWER_WAIT_S = 8.0
"""How long (s) the page waits for an answer before it asks again."""
_HEADERS = {
    "permissions-policy": "camera=(), geolocation=(), microphone=(self), screen-wake-lock=(self)",
    "content-security-policy": "; ".join(
        (
            "default-src 'none'",
            "script-src 'self'",
            "style-src 'self'",
            "img-src 'self'",
            "connect-src 'self'",
            "worker-src 'self'",
            "base-uri 'none'",
            "form-action 'none'",
            "frame-ancestors 'none'",
        )
    ),
}


class PhoneReply(Protocol):
    """Something that a phone is to sound or show."""

    @property
    def number(self) -> int:
        """Which of the answers it is, from 1 on."""

    @property
    def at(self) -> int:
        """The sample that it is about."""

    @property
    def words(self) -> str:
        """What it says; "" for a tone."""

    @property
    def pcm(self) -> bytes:
        """Its sound, 16 kHz mono, 16 bits, little-endian."""

    @property
    def late(self) -> bool:
        """Whether it is too late to be sounded."""

    @property
    def cancels(self) -> tuple[int, ...]:
        """The numbers of what breaks off."""


class PhoneReplies(Protocol):
    """Who listens to the phones and answers."""

    late_s: float
    alone: bytes
    reached: bytes

    def told(self, recording: str, recorded: int | None) -> None:
        """The phone says how many samples of a recording it has made; None: no more come."""

    def wait(
        self, recording: str, recorded: int | None, after: int, seconds: float
    ) -> Sequence[PhoneReply] | None:
        """The answers after a number, waited for at most so long (s); None: none come."""


class _NoPassError(ForbiddenError):
    """A phone that has not joined, or whose pass is of another log."""

    code = "not-joined"
    status = 401

    def __init__(self) -> None:
        super().__init__(NOT_JOINED)


def make_phone_app(
    sound: PhoneSound,
    passes: PhonePasses,
    *,
    hosts: Collection[str],
    changed: Callable[[], None],
    now: Callable[[], datetime],
    answers: PhoneReplies | None = None,
) -> Starlette:
    """The page for phones.

    Args:
        sound: where what they send goes.
        passes: who may send.
        hosts: what the Host header may be, with the port.
        changed: is told whenever a recording is whole, and, where somebody answers, when it begins.
        now: the clock.
        answers: who answers while a phone records; None: nobody.
    """

    def file(name: str) -> Route:
        kind = "text/css" if name.endswith(".css") else "text/javascript"
        return Route(f"/{name}", lambda request: FileResponse(STATIC / name, media_type=kind))

    def at(path: str, handler: Callable[[Request, bytes], dict[str, Any]]) -> Route:
        async def endpoint(request: Request) -> Response:
            body = await request.body()
            return await run_in_threadpool(_answered, handler, request, body)

        return Route(path, endpoint, methods=["POST"])

    def join(request: Request, body: bytes) -> dict[str, Any]:
        asked = _asked(body)
        who = request.client.host if request.client else ""
        given = passes.join(str(asked.get("code", "")), str(asked.get("device", "")), who)
        return {"pass": given}

    def device_of(request: Request) -> str:
        kind, _, shown = request.headers.get("authorization", "").partition(" ")
        device = passes.device(shown) if kind == "Bearer" else None
        if device is None:
            raise _NoPassError()
        return device

    def have(request: Request, body: bytes) -> dict[str, Any]:
        device_of(request)
        return {"have": sound.have(request.path_params["recording"])}

    def take(request: Request, body: bytes) -> dict[str, Any]:
        device = device_of(request)
        block = SoundBlock(request.path_params["start"], body, request.headers.get("x-sha256", ""))
        began = _began(request.headers, now())
        recording = request.path_params["recording"]
        have = sound.take(recording, device, began, block)
        if answers is not None:
            answers.told(recording, _recorded(request.headers.get("x-recorded")))
            if not block.start:
                changed()
        return {"have": have}

    def answer(request: Request, body: bytes) -> dict[str, Any]:
        device_of(request)
        if answers is None:
            return {"answering": False}
        asked = _asked(body)
        after = asked.get("after")
        after = after if isinstance(after, int) else 0
        found = answers.wait(
            request.path_params["recording"], _recorded(asked.get("recorded")), after, ANSWER_WAIT_S
        )
        cues = {"alone": _text(answers.alone), "reached": _text(answers.reached)}
        return {
            "answering": found is not None,
            "live": True,
            "late": answers.late_s,
            "answers": [_told(one) for one in found or ()],
        } | (cues if asked.get("cues") is True else {})

    def end(request: Request, body: bytes) -> dict[str, Any]:
        device_of(request)
        samples = _asked(body).get("samples")
        if samples is not None and not (isinstance(samples, int) and samples >= 0):
            raise BlockMismatchError("without a proper end")
        whole = sound.finish(request.path_params["recording"], samples)
        changed()
        return {"have": whole}

    def shown(request: Request) -> Response:
        words = Markup(json.dumps(dict(PAGE_WORDS)).replace("<", "\\u003c"))
        return page("phone.html", words=PAGE_WORDS, words_json=words)

    return Starlette(
        routes=[
            Route("/", shown),
            *map(file, (*_SCRIPTS, "phone.css")),
            at("/api/join", join),
            at("/api/sound/{recording}/end", end),
            at("/api/sound/{recording}/have", have),
            at("/api/sound/{recording}/answers", answer),
            at("/api/sound/{recording}/{start:int}", take),
        ],
        middleware=[
            Middleware(SecurityMiddleware, hosts=hosts, token=None, lock=None, headers=_HEADERS)
        ],
        exception_handlers={HTTPException: _no_page},
    )


def make_trust_app(certificate: bytes, fingerprint: str, *, hosts: Collection[str]) -> Starlette:
    """What a phone loads, without encryption, to trust this machine: an explanation, and the
    authority's certificate.

    Args:
        certificate: of the authority, DER.
        fingerprint: its SHA-256.
        hosts: what the Host header may be, with the port.
    """

    def explained(request: Request) -> Response:
        return page("phone_trust.html", fingerprint=fingerprint)

    def given(request: Request) -> Response:
        return Response(
            certificate,
            media_type="application/x-x509-ca-cert",
            headers={"content-disposition": 'attachment; filename="voicelog.crt"'},
        )

    return Starlette(
        routes=[
            Route("/", explained),
            Route("/voicelog.crt", given),
            Route("/phone.css", lambda request: FileResponse(STATIC / "phone.css")),
        ],
        middleware=[
            Middleware(SecurityMiddleware, hosts=hosts, token=None, lock=None, headers=_HEADERS)
        ],
        exception_handlers={HTTPException: _no_page},
    )


def _asked(body: bytes) -> Mapping[str, Any]:
    try:
        asked = json.loads(body)
    except ValueError:
        asked = None
    if not isinstance(asked, dict):
        raise ForbiddenError("This is nothing that the phone page sends; nothing was done.")
    return asked


def _recorded(told: object) -> int | None:
    """How many samples a phone says it has made of a recording; None where it says none."""
    text = str(told)
    return int(text) if text.isdecimal() and len(text) < 16 else None


def _text(pcm: bytes) -> str:
    return base64.b64encode(pcm).decode()


def _told(answer: PhoneReply) -> dict[str, Any]:
    return {
        "number": answer.number,
        "at": answer.at,
        "words": answer.words,
        "pcm": _text(answer.pcm),
        "late": answer.late,
        "cancels": answer.cancels,
    }


def _began(headers: Headers, now: datetime) -> datetime:
    """When a recording began, by this machine's clock: the phone says when by its own, and what
    its own says now."""
    with contextlib.suppress(ValueError):
        began = datetime.fromisoformat(headers.get("x-started-at", ""))
        sent = datetime.fromisoformat(headers.get("x-sent-at", ""))
        if began.tzinfo is not None and sent.tzinfo is not None:
            ahead = sent - now
            began -= ahead if abs(ahead) > CLOCKS_APART else timedelta()
            if began.year in PLAUSIBLE_YEARS:
                return began
    raise BlockMismatchError("without the time when its recording began")


def _answered(
    handler: Callable[[Request, bytes], dict[str, Any]], request: Request, body: bytes
) -> Response:
    """What a handler says, or what was wrong, as the page's script reads it."""
    refused = partial(_refused, {})
    try:
        return JSONResponse({"ok": True} | handler(request, body))
    except BlockGapError as error:
        return _refused({"have": error.have}, 409, "gap", error)
    except BlockMismatchError as error:
        return refused(422, "mismatch", error)
    except NoRoomError as error:
        return refused(507, "no-room", error)
    except ForbiddenError as error:
        return refused(error.status, error.code, error)


def _refused(more: dict[str, Any], status: int, code: str, error: VoicelogError) -> Response:
    told = {"ok": False, "code": code, "message": str(error)} | more
    return JSONResponse(told, status_code=status)


async def _no_page(request: Request, error: Exception) -> Response:
    status = error.status_code if isinstance(error, HTTPException) else 500
    return JSONResponse({"ok": False, "code": "not-there"}, status_code=status)
