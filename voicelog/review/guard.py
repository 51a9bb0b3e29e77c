"""Who may ask for a page, and what a page may do; around every request.

The page is for the people at this laptop. So: only names of this machine in the Host header
(a site elsewhere that points its name here is refused), a token on every change that another
site cannot know, nothing longer or slower than the page itself would send, and headers that
let the page load nothing from anywhere else. On the network there is an access code as well.
"""

from __future__ import annotations

import asyncio
import secrets
from collections.abc import Collection
from http.cookies import CookieError, SimpleCookie
from time import monotonic

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from voicelog.review.errors import ForbiddenError, NoCodeError, ReviewError, TooLargeError
from voicelog.review.respond import error_response

__all__ = ["CODE_COOKIE", "Guard", "Lock"]

LONGEST_BODY = 64 * 1024
"""Bytes of the longest request."""
SLOWEST_BODY_S = 10.0
"""How long a request may take to arrive, s."""
CODE_COOKIE = "voicelog_pass"
TRIES = 5
"""Wrong access codes after which everybody who has none yet has to wait."""
PAUSE_S = 60.0

_POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self'",
        "media-src 'self'",
        "connect-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)
_HEADERS = {
    "content-security-policy": _POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), geolocation=(), microphone=()",
    "cache-control": "no-store",
}


class Lock:
    """The access code of a page on the network, and who has shown it."""

    def __init__(self, code: str) -> None:
        self._code = code
        self._passes: set[str] = set()
        self._wrong, self._until = 0, 0.0

    def try_code(self, code: str) -> str:
        """A pass for the right code. Raises ForbiddenError for a wrong one, or too many."""
        if monotonic() < self._until:
            raise ForbiddenError("Too many wrong access codes were tried: wait a minute.")
        if not secrets.compare_digest(code.strip().casefold().encode(), self._code.encode()):
            self._wrong += 1
            if self._wrong >= TRIES:
                self._wrong, self._until = 0, monotonic() + PAUSE_S
            raise ForbiddenError(
                "That is not the access code: it was printed where 'voicelog review' was started."
            )
        self._wrong = 0
        shown = secrets.token_urlsafe(32)
        self._passes.add(shown)
        return shown

    def knows(self, shown: str) -> bool:
        """Whether a pass was given out by this run of the program."""
        return shown in self._passes


class Guard:
    """ASGI middleware around the whole application.

    Args:
        hosts: what the Host header may be, in lower case, with the port.
        token: what every change has to carry in the header `x-voicelog-token`.
        lock: on the network, who may come in; None on this machine alone.
    """

    def __init__(
        self, app: ASGIApp, *, hosts: Collection[str], token: str, lock: Lock | None
    ) -> None:
        self.app, self.hosts, self.token, self.lock = app, frozenset(hosts), token, lock

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self.app(scope, receive, send)
            return

        async def guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in _HEADERS.items():
                    headers[name] = value
            await send(message)

        try:
            self._refuse(scope)
            body = await self._body(scope, receive)
        except ReviewError as error:
            await error_response(error, scope)(scope, receive, guarded)
            return
        await self.app(scope, body, guarded)

    def _refuse(self, scope: Scope) -> None:
        headers = Headers(scope=scope)
        host = headers.get("host", "").lower()
        if host not in self.hosts:
            raise ForbiddenError(
                f"Found '{host[:80]}' as the address, wanted one of this page's own; open it "
                "under the address that 'voicelog review' printed."
            )
        changes = scope["method"] not in ("GET", "HEAD")
        path = scope["path"]
        if changes:
            origin = headers.get("origin")
            elsewhere = origin is not None and origin.partition("://")[2].lower() != host
            site = headers.get("sec-fetch-site", "same-origin")
            if elsewhere or site not in ("same-origin", "none"):
                raise ForbiddenError("This change was asked for by another site; it was refused.")
        open_to_all = path == "/enter" or path.startswith("/static/")
        if self.lock is not None and not open_to_all and not self.lock.knows(_pass(headers)):
            raise NoCodeError("This page asks for its access code first: open /enter and type it.")
        if changes and path != "/enter":
            shown = headers.get("x-voicelog-token", "")
            if not secrets.compare_digest(shown.encode(), self.token.encode()):
                raise ForbiddenError(
                    "This page was opened before 'voicelog review' was started again, so nothing "
                    "was done: load it again."
                )

    async def _body(self, scope: Scope, receive: Receive) -> Receive:
        """The whole request, read within its limits, to be received at once."""
        if scope["method"] in ("GET", "HEAD"):
            return receive
        chunks, size = [], 0
        try:
            async with asyncio.timeout(SLOWEST_BODY_S):
                more = True
                while more:
                    message = await receive()
                    if message["type"] == "http.disconnect":
                        raise TooLargeError("The request broke off; nothing was done.")
                    chunk = message.get("body", b"")
                    size += len(chunk)
                    if size > LONGEST_BODY:
                        raise TooLargeError(
                            f"Found a request of more than {LONGEST_BODY // 1024} kB, which this "
                            "page never makes; nothing was done."
                        )
                    chunks.append(chunk)
                    more = message.get("more_body", False)
        except TimeoutError as error:
            raise TooLargeError("The request took too long to arrive; nothing was done.") from error
        whole: Message = {"type": "http.request", "body": b"".join(chunks), "more_body": False}
        given = False

        async def again() -> Message:
            nonlocal given
            if given:
                return await receive()
            given = True
            return whole

        return again


def _pass(headers: Headers) -> str:
    try:
        cookie = SimpleCookie(headers.get("cookie", "")).get(CODE_COOKIE)
    except CookieError:
        return ""
    return cookie.value if cookie else ""
