"""Letting a browser in: by an address that opens once, or on the network by the access code."""

from __future__ import annotations

from urllib.parse import parse_qs

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from voicelog.app.review.errors import BadRequestError, ForbiddenError, ReviewError
from voicelog.web.peer import is_another_user
from voicelog.web.responses import page
from voicelog.web.routing import route
from voicelog.web.security import OPEN, Authenticator

__all__ = ["Entrance", "typed_field"]


class Entrance:
    """The two ways in, for a `lock`; None where nobody else can ask at all."""

    def __init__(self, lock: Authenticator | None) -> None:
        self.lock = lock

    def routes(self) -> list[Route]:
        """Where the ways in are found."""
        return [
            route(f"{OPEN}{{secret}}", self._open),
            route("/enter", self._enter, "GET", "POST"),
        ]

    def _open(self, request: Request) -> Response:
        """Let a browser in by an address that opens once; the secret goes out of the address."""
        reply = RedirectResponse("/", status_code=303)
        if self.lock is None or self.lock.knows(request.headers):
            return reply
        if request.method != "GET":
            raise BadRequestError("This page does not do that.")
        client, port = request.client, _own_port(request)
        if client is not None and port is not None and is_another_user(client.port, port):
            raise ForbiddenError("This page is another user's of this machine; it was refused.")
        self._admit(reply, self.lock, self.lock.open(request.path_params["secret"]))
        return reply

    @staticmethod
    def _admit(reply: Response, lock: Authenticator, shown: str) -> None:
        reply.set_cookie(
            lock.cookie, shown, httponly=True, secure=lock.code is not None, samesite="strict"
        )

    def _enter(self, request: Request) -> Response:
        if self.lock is None or self.lock.code is None:
            return RedirectResponse("/", status_code=303)
        if request.method == "GET":
            return page("enter.html", message="")
        try:
            who = request.client.host if request.client else ""
            shown = self.lock.try_code(typed_field(request, "code"), who)
        except ReviewError as error:
            return page("enter.html", status=error.status, message=str(error))
        reply = RedirectResponse("/", status_code=303)
        self._admit(reply, self.lock, shown)
        return reply


def typed_field(request: Request, name: str) -> str:
    """A field of a form that is sent without a script; empty where it is left out."""
    body: bytes = request.state.body
    form = parse_qs(body.decode("utf-8", "replace"), keep_blank_values=True)
    return form.get(name, [""])[0]


def _own_port(request: Request) -> int | None:
    """The port at which the request arrived, where it came over a network."""
    server = request.scope.get("server")
    return server[1] if server else None
