"""People and litters on the page: handlers, whose dog is whose, which come from one litter."""

from __future__ import annotations

from collections.abc import Iterable

from starlette.requests import Request
from starlette.responses import Response

from voicelog.app.review.errors import BadRequestError
from voicelog.app.roster import add_handler, remove_dog, remove_handler
from voicelog.model import Dog
from voicelog.report.roster_words import off_roster_words, on_roster_words
from voicelog.web.form_fields import given, text_of
from voicelog.web.job_desk import JobDesk, done

__all__ = ["change_handler", "people", "take_dog_off"]


def people(desk: JobDesk, request: Request) -> Response:
    """The page with handlers, clients and litters."""
    roster = desk.service.log.roster()
    return desk.page(
        request,
        "people.html",
        handlers=roster.handlers,
        clients=_grouped((dog.client, dog) for dog in roster.dogs),
        litters=_grouped((dog.litter, dog) for dog in roster.dogs),
    )


def change_handler(desk: JobDesk, request: Request) -> Response:
    """Put a handler's name on the roster, or take it off."""
    fields = given(request)
    name, deed = text_of(fields, "name"), text_of(fields, "do")
    if deed == "remove":
        remove_handler(desk.service.log, name)
        return done(off_roster_words(name))
    if deed != "add":
        raise BadRequestError("Found a request that this page does not make; reload this page.")
    alike = add_handler(desk.service.log, name)
    return done(on_roster_words(name), *alike)


def take_dog_off(desk: JobDesk, request: Request) -> Response:
    """Take a dog off the roster; its sessions stay."""
    name = text_of(given(request), "name")
    remove_dog(desk.service.log, name)
    return done(off_roster_words(name), go="/dogs")


def _grouped(pairs: Iterable[tuple[str, Dog]]) -> list[tuple[str, list[Dog]]]:
    """The dogs by what they share, by its first letters; those with nothing are left out."""
    groups: dict[str, list[Dog]] = {}
    for shared, dog in pairs:
        if shared.strip():
            groups.setdefault(" ".join(shared.split()), []).append(dog)
    return sorted(groups.items(), key=lambda group: group[0].casefold())
