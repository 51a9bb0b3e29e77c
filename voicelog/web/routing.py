"""From a handler to a route: plain code in a thread of its own, and one answer to what fails."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from sqlalchemy.exc import SQLAlchemyError
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from voicelog.app.review.errors import BadRequestError, NotFoundError, ReviewError
from voicelog.model import VoicelogError
from voicelog.web.responses import error_response

__all__ = ["ANSWERS_TO_ERRORS", "Handler", "route"]

Handler = Callable[[Request], Response]


def route(path: str, handler: Handler, *methods: str) -> Route:
    """A route to a handler, which finds the whole body of its request at `request.state.body`.
    `methods`: those that it answers, GET where none is named."""

    async def endpoint(request: Request) -> Response:
        request.state.body = await request.body()
        return await run_in_threadpool(_answered, handler, request)

    return Route(path, endpoint, methods=list(methods) or ["GET"])


def _answered(handler: Handler, request: Request) -> Response:
    try:
        return handler(request)
    except VoicelogError as error:
        return error_response(error, request.scope)
    except SQLAlchemyError as error:
        raise RuntimeError("the database") from error


async def _no_page(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    if error.status_code == 405:
        return error_response(BadRequestError("This page does not do that."), request.scope)
    return error_response(
        NotFoundError(f"Found no page '{request.url.path[:80]}'; go back to the sessions."),
        request.scope,
    )


async def _inside(request: Request, error: Exception) -> Response:
    """A mistake of the program: its trace goes to the terminal, not to the page."""
    told = ReviewError(
        f"Something went wrong inside ({type(error).__name__}), and nothing was done; the "
        "terminal says more."
    )
    told.status = 500
    return error_response(told, request.scope)


ANSWERS_TO_ERRORS: Mapping[Any, Any] = {HTTPException: _no_page, Exception: _inside}
"""What answers where no handler did, or one failed."""
