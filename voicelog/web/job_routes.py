"""Where the pages of the whole job are found."""

from __future__ import annotations

from collections.abc import Callable

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from voicelog.web import first_run, incoming_page, people_page, take_out
from voicelog.web.job_desk import JobDesk, JobHandler, refusing

__all__ = ["job_routes"]


def job_routes(at: Callable[..., Route], desk: JobDesk) -> list[Route]:
    """The routes. `at` makes one of a path, a handler and methods; they come before all others,
    since a dog's name may have a slash in it."""

    def to(path: str, handler: JobHandler, *methods: str) -> Route:
        return at(path, refusing(desk, handler), *methods)

    return [
        to("/more", _more),
        to("/start/{step}", first_run.step),
        to("/api/start/dog", first_run.first_dog, "POST"),
        to("/api/microphone", first_run.try_microphone, "POST"),
        to("/add", incoming_page.add),
        to("/demo", incoming_page.demo),
        to("/api/demo", incoming_page.hear_demo, "POST"),
        to("/api/incoming", incoming_page.listed),
        to("/api/incoming", incoming_page.begin, "POST"),
        to("/api/incoming/{id}/bytes", incoming_page.piece, "POST"),
        to("/api/incoming/{id}", incoming_page.act, "POST"),
        to("/people", people_page.people),
        to("/api/handler", people_page.change_handler, "POST"),
        to("/api/dog/off", people_page.take_dog_off, "POST"),
        to("/take-out", take_out.take_out),
        to("/take-out/{name}", take_out.taken_out),
        to("/dogs/{name:path}/owner", take_out.owner),
        to("/dogs/{name:path}/owner.pdf", take_out.owner_report),
    ]


def _more(desk: JobDesk, request: Request) -> Response:
    """The page that leads to those which are not needed every day."""
    return desk.page(request, "more.html")
