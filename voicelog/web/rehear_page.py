"""Hearing kept recordings again on the page: what that would change, then whether to take it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date

from starlette.requests import Request
from starlette.responses import Response

from voicelog.app.open_log import open_log
from voicelog.app.rehear import (
    Difference,
    accept_rehearing,
    difference_lines,
    name_of,
    recordings_to_rehear,
    rehear_today,
    sum_lines,
)
from voicelog.app.review.errors import BadRequestError
from voicelog.app.session_catalog import SessionCatalog
from voicelog.app.session_choice import logged_dog
from voicelog.model import VoicelogError
from voicelog.report.changes import changes_elsewhere
from voicelog.report.hearing_words import heard_words
from voicelog.report.rehear_words import taken_words
from voicelog.report.work_words import NOTHING_TO_TAKE, WORK_STARTED
from voicelog.web.form_fields import given, text_of
from voicelog.web.job_desk import JobDesk, done
from voicelog.web.long_work import WorkLine

__all__ = ["rehear", "rehear_now", "take_over"]


def rehear(desk: JobDesk, request: Request) -> Response:
    """The page."""
    catalog = desk.service.session_catalog
    return desk.page(request, "rehear.html", dogs=catalog.dogs(), new=desk.heard_again.new)


def rehear_now(desk: JobDesk, request: Request) -> Response:
    """Hear what was chosen again; nothing is changed by it."""
    fields = given(request)
    dog, day = text_of(fields, "dog") or None, _day(text_of(fields, "day"))

    def deed() -> Iterator[WorkLine]:
        desk.heard_again.found = ()
        found: list[Difference] = []
        with open_log(desk.service.log.folder) as log:
            catalog = SessionCatalog(log)
            known = None if dog is None else logged_dog(catalog, dog)
            catalog.refresh(None if known is None else [known])
            chosen = recordings_to_rehear(log, catalog, dog, day)
            for number, kept in enumerate(chosen):
                told = _told(desk, name_of(kept), number, len(chosen))
                told(0.0, None)
                try:
                    difference = rehear_today(log, kept, None, told)
                except VoicelogError as error:
                    if desk.work.stopping:
                        raise
                    yield str(error), False
                    continue
                found.append(difference)
                for line in difference_lines(kept, difference):
                    yield line, True
        for line in sum_lines(found):
            yield line, True
        desk.heard_again.found = tuple(found)

    desk.work.start("rehear", deed)
    return done(WORK_STARTED)


def take_over(desk: JobDesk, request: Request) -> Response:
    """Take over what the last hearing found."""
    found = desk.heard_again.found
    if not found:
        raise BadRequestError(NOTHING_TO_TAKE)

    def deed() -> Iterator[WorkLine]:
        desk.heard_again.found = ()
        with open_log(desk.service.log.folder) as log:
            taken = sum(accept_rehearing(log, difference) for difference in found)
            changed = changes_elsewhere(SessionCatalog(log).refresh_noting())
        yield taken_words(taken), True
        for line in changed:
            yield line, True

    desk.work.start("rehear", deed)
    return done(WORK_STARTED)


def _told(
    desk: JobDesk, name: str, number: int, total: int
) -> Callable[[float, float | None], None]:
    def told(done_s: float, total_s: float | None) -> None:
        far = done_s / total_s if total_s else 0.0
        words = f"{name} ({number + 1} of {total}): {heard_words(done_s, total_s)}"
        desk.work.show(words, min(1.0, (number + min(1.0, far)) / total))

    return told


def _day(text: str) -> date | None:
    try:
        return date.fromisoformat(text) if text else None
    except ValueError as error:
        raise BadRequestError("Found no day, wanted one; choose it again.") from error
