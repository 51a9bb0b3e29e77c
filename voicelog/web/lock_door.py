"""What is served while the log cannot be read: the page that asks for the passphrase, or that says
how far a change of the lock is. It is guarded as the page of the log is."""

from __future__ import annotations

from collections.abc import Callable, Collection
from pathlib import Path
from time import sleep

from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import Mount
from starlette.staticfiles import StaticFiles

from voicelog.app.review.errors import LogClosedError, ReviewError
from voicelog.report.lock_words import CLOSED_AT_PAGE
from voicelog.web.entrance import Entrance, typed_field
from voicelog.web.lock_keeper import LockKeeper
from voicelog.web.responses import page
from voicelog.web.routing import ANSWERS_TO_ERRORS, route
from voicelog.web.security import Authenticator, SecurityMiddleware

__all__ = ["last_answer", "make_door"]

STATIC = Path(__file__).with_name("static")
UNTIL_CLOSED_S = 0.5
"""How long it takes at most that a server which is to end takes no new requests, s."""


def make_door(
    keeper: LockKeeper,
    *,
    hosts: Collection[str],
    lock: Authenticator | None,
    close: Callable[[], None],
) -> Starlette:
    """The page, see `SecurityMiddleware` for `hosts` and `lock`; `close` ends its server, once the
    log is open or nobody wants to open it."""

    def unlock(request: Request) -> Response:
        if request.method == "GET":
            return page("unlock.html", message="") if keeper.closed else last_answer(_home())
        who = request.client.host if request.client else ""
        try:
            keeper.unlock(typed_field(request, "passphrase"), who)
        except ReviewError as error:
            return page("unlock.html", status=error.status, message=str(error))
        close()
        return last_answer(_home())

    def give_up(request: Request) -> Response:
        close()
        return page("closed.html", message=CLOSED_AT_PAGE)

    def far(request: Request) -> Response:
        return JSONResponse({"ok": True, "words": keeper.progress})

    def elsewhere(request: Request) -> Response:
        if request.method != "GET" or "text/html" not in request.headers.get("accept", ""):
            raise LogClosedError()
        if keeper.progress:
            return page("lock_work.html", words=keeper.progress)
        if keeper.closed:
            return RedirectResponse("/unlock", status_code=303)
        again = f"/{request.path_params['rest'].lstrip('/')}"  # never to another host
        return last_answer(RedirectResponse(again, status_code=303))

    return Starlette(
        routes=[
            *Entrance(lock).routes(),
            route("/unlock", unlock, "GET", "POST"),
            route("/close", give_up, "POST"),
            route("/api/door", far),
            Mount("/static", StaticFiles(directory=STATIC)),
            route("/{rest:path}", elsewhere, "GET", "POST"),
        ],
        middleware=[Middleware(SecurityMiddleware, hosts=hosts, token=None, lock=lock)],
        exception_handlers=ANSWERS_TO_ERRORS,
    )


def last_answer(answer: Response) -> Response:
    """An answer that is followed by a page of the next server: held back until this one takes no
    new requests, and the last on its connection."""
    sleep(UNTIL_CLOSED_S)
    answer.headers["connection"] = "close"
    return answer


def _home() -> Response:
    return RedirectResponse("/", status_code=303)
