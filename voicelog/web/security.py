"""Who may ask for a page, and what a page may do; around every request.

The page is for the people at this laptop. So: only names of this machine in the Host header
(a site elsewhere that points its name here is refused), a token on every change that another
site cannot know, nothing longer or slower than the page itself would send, and headers that
let the page load nothing from anywhere else. Nor is it for other users of this machine: only a
browser that has opened the printed address, which opens once, is let in; on the network also one
where the access code was typed.
"""

from __future__ import annotations

import asyncio
import secrets
import threading
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from http.cookies import CookieError, SimpleCookie
from time import monotonic
from types import MappingProxyType

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from voicelog.app.review.errors import (
    AccessCodeRequiredError,
    ForbiddenError,
    NotAuthenticatedError,
    ReviewError,
    TooLargeError,
)
from voicelog.web.responses import error_response

__all__ = ["OPEN", "Authenticator", "CodeAttempts", "SecurityMiddleware"]

LONGEST_BODY = 64 * 1024
"""Bytes of the longest request."""
SLOWEST_BODY_S = 10.0
"""How long a request may take to arrive, s."""
PIECES = "/api/incoming/"
"""Below it files arrive in pieces, which may be longer and slower."""
LONGEST_PIECE = 2 * 1024 * 1024
"""Bytes of the longest piece of a file; no more of it is ever held in memory."""
SLOWEST_PIECE_S = 60.0
OPEN = "/open/"
"""Where an address leads that opens the page once; its secret follows."""
TRIES = 5
"""Wrong access codes from one address after which it has to wait."""
PAUSE_S = 60.0
MOST_TRYING = 1000
"""Addresses whose wrong codes are counted; the oldest are forgotten."""

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
    "referrer-policy": "same-origin",  # with none a browser would not say where a form is from
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), geolocation=(), microphone=()",
    "cache-control": "no-store",
}


class CodeAttempts:
    """Compares codes that are typed, and makes an address wait that types too many wrong ones.
    Whoever uses it from several threads locks around it."""

    def __init__(self) -> None:
        self._tries: dict[str, _FailedAttempts] = {}

    def right(self, code: str, wanted: str | None, who: str) -> bool:
        """Whether `code` is the one `wanted` (None: none is right). `who` is the address that it
        comes from: one machine's wrong codes keep no other waiting.

        Raises:
            ForbiddenError: it has to wait.
        """
        right = (wanted or "").encode()
        typed = code.strip().casefold().encode()
        return self.try_it(lambda: bool(right) and secrets.compare_digest(typed, right), who)

    def try_it(self, opens: Callable[[], bool], who: str, what: str = "access codes") -> bool:
        """The same for anything that is typed: whether it `opens`, which is asked only where `who`
        does not have to wait. `what`: what wrong ones are called."""
        tries = self._tries.get(who, _FailedAttempts())
        if monotonic() < tries.until:
            raise ForbiddenError(f"Too many wrong {what} were tried: wait a minute.")
        self._tries.pop(who, None)
        if opens():
            return True
        self._tries[who] = tries.one_more()
        if len(self._tries) > MOST_TRYING:
            self._tries.pop(next(iter(self._tries)))
        return False


class Authenticator:
    """Who may come in: who opens an address that opens once, or on the network has the code.

    Args:
        code: the access code, on the network; None on this machine alone.
        cookie: under which name a browser keeps its pass. Cookies are shared by all ports of a
            machine, so each page needs a name of its own.
        told: is given each new secret of the address, once the one before it was used.
    """

    def __init__(
        self,
        code: str | None = None,
        *,
        cookie: str = "voicelog_pass",
        told: Callable[[str], None] = lambda secret: None,
    ) -> None:
        self.code, self.cookie = code, cookie
        self.secret = secrets.token_urlsafe(32)
        """What the next address to be opened ends in."""
        self._told = told
        self._passes: list[bytes] = []
        self._tries = CodeAttempts()
        self._one = threading.Lock()

    def open(self, secret: str) -> str:
        """A pass for the secret of an address. Raises ForbiddenError for any other, or twice."""
        with self._one:
            if not secrets.compare_digest(secret.encode(), self.secret.encode()):
                raise ForbiddenError(
                    "This address was opened already, or is of an earlier start, and each opens "
                    "the page once: open the newest that 'voicelog review' has printed."
                )
            self.secret = secrets.token_urlsafe(32)
            shown = self._pass()
        self._told(self.secret)
        return shown

    def try_code(self, code: str, who: str = "") -> str:
        """A pass for the right code. Raises ForbiddenError for a wrong one, or too many.

        `who` is the address it comes from: one machine's wrong codes keep no other waiting.
        """
        with self._one:
            if not self._tries.right(code, self.code, who):
                raise ForbiddenError(
                    "That is not the access code: it was printed where 'voicelog review' was "
                    "started."
                )
            return self._pass()

    def _pass(self) -> str:
        shown = secrets.token_urlsafe(32)
        self._passes.append(shown.encode())
        return shown

    def knows(self, headers: Headers) -> bool:
        """Whether a request carries a pass that was given out by this run of the program."""
        try:
            found = SimpleCookie(headers.get("cookie", "")).get(self.cookie)
        except CookieError:
            return False
        shown = found.value.encode() if found else b""
        return sum(secrets.compare_digest(shown, one) for one in self._passes) > 0


@dataclass(frozen=True, slots=True)
class _FailedAttempts:
    """Wrong codes from one address since the last pause, and when that pause ends."""

    wrong: int = 0
    until: float = 0.0

    def one_more(self) -> _FailedAttempts:
        if self.wrong + 1 < TRIES:
            return _FailedAttempts(self.wrong + 1)
        return _FailedAttempts(until=monotonic() + PAUSE_S)


class SecurityMiddleware:
    """ASGI middleware around the whole application.

    Args:
        hosts: what the Host header may be, in lower case, with the port.
        token: what every change has to carry in the header `x-voicelog-token`; None where changes
            carry a pass of their own, which no other site can send.
        lock: who may come in; None where nobody else can ask at all, as in a test, or where each
            handler asks.
        headers: what is said in each answer instead of what a page says that may do nothing.
    """

    def __init__(
        self,
        app: ASGIApp,
        *,
        hosts: Collection[str],
        token: str | None,
        lock: Authenticator | None,
        headers: Mapping[str, str] = MappingProxyType({}),
    ) -> None:
        self.app, self.hosts, self.token, self.lock = app, frozenset(hosts), token, lock
        self.headers = _HEADERS | dict(headers)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self.app(scope, receive, send)
            return

        async def guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in self.headers.items():
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
        if self.lock is not None and not self._let_in(self.lock, path, headers):
            if self.lock.code is None:
                raise NotAuthenticatedError()
            raise AccessCodeRequiredError(
                "This page asks for its access code first: open /enter and type it."
            )
        if changes and path != "/enter" and self.token is not None:
            shown = headers.get("x-voicelog-token", "")
            if not secrets.compare_digest(shown.encode(), self.token.encode()):
                raise ForbiddenError(
                    "This page was opened before 'voicelog review' was started again, so nothing "
                    "was done: load it again."
                )

    @staticmethod
    def _let_in(lock: Authenticator, path: str, headers: Headers) -> bool:
        to_enter = lock.code is not None and (path == "/enter" or path.startswith("/static/"))
        return path.startswith(OPEN) or to_enter or lock.knows(headers)

    async def _body(self, scope: Scope, receive: Receive) -> Receive:
        """The whole request, read within its limits, to be received at once."""
        if scope["method"] in ("GET", "HEAD"):
            return receive
        chunks, size = [], 0
        piece = scope["path"].startswith(PIECES)
        longest = LONGEST_PIECE if piece else LONGEST_BODY
        try:
            async with asyncio.timeout(SLOWEST_PIECE_S if piece else SLOWEST_BODY_S):
                more = True
                while more:
                    message = await receive()
                    if message["type"] == "http.disconnect":
                        raise TooLargeError("The request broke off; nothing was done.")
                    chunk = message.get("body", b"")
                    size += len(chunk)
                    if size > longest:
                        raise TooLargeError(
                            f"Found a request of more than {longest // 1024} kB, which this "
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
