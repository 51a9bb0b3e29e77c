"""Keeping the log in order on the page: checking it, deriving it anew; and how long work stands."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from voicelog.app.integrity import check_log, set_aside_lines
from voicelog.app.open_log import open_log
from voicelog.app.review.errors import BadRequestError
from voicelog.app.session_catalog import SessionCatalog
from voicelog.report.check_words import ACCEPT_NOT_SURE, check_lines
from voicelog.report.deriving_words import rebuilt_words
from voicelog.report.hearing_words import done_words
from voicelog.report.work_words import STOPPING, WORK_STARTED
from voicelog.web.form_fields import given
from voicelog.web.job_desk import JobDesk, done, require_this_machine
from voicelog.web.long_work import WorkLine

__all__ = ["accept", "check", "progress_of", "rebuild", "stop_work", "upkeep", "work_status"]


def upkeep(desk: JobDesk, request: Request) -> Response:
    """The page."""
    asides = set_aside_lines(desk.service.session_catalog)
    return desk.page(request, "upkeep.html", asides=asides)


def check(desk: JobDesk, request: Request) -> Response:
    """Check everything: the chain, each sound, what is set aside, the newest backup."""
    return _checked(desk, accept=False)


def accept(desk: JobDesk, request: Request) -> Response:
    """Accept the database as it is, even if it is another one or an older one; then check it."""
    require_this_machine(request)
    if given(request).get("sure") is not True:
        raise BadRequestError(ACCEPT_NOT_SURE)
    return _checked(desk, accept=True)


def _checked(desk: JobDesk, *, accept: bool) -> Response:
    folder = desk.service.log.folder

    def deed() -> Iterator[WorkLine]:
        with open_log(folder) as log:
            if accept:
                log.note_chain(anew=True)
            found = check_log(log, progress_of(desk))
        yield from check_lines(found.stored, found.aside_lines, found.backup, "page")

    desk.work.start("check", deed)
    return done(WORK_STARTED)


def rebuild(desk: JobDesk, request: Request) -> Response:
    """Work out all sessions, reps and findings again from the entries."""
    folder = desk.service.log.folder

    def deed() -> Iterator[WorkLine]:
        with open_log(folder) as log:
            yield rebuilt_words(SessionCatalog(log).rebuild(progress_of(desk))), True
            for error in log.asides().values():
                yield str(error), False

    desk.work.start("rebuild", deed)
    return done(WORK_STARTED)


def work_status(desk: JobDesk, request: Request) -> Response:
    """How the work stands, for a page that asks again and again."""
    now = desk.work.status
    lines = [{"words": words, "good": good} for words, good in now.lines]
    return JSONResponse(
        {
            "ok": True,
            "kind": now.kind,
            "busy": now.busy,
            "words": now.words,
            "part": now.part,
            "offer": desk.heard_again.new > 0,
            "lines": lines,
        }
    )


def stop_work(desk: JobDesk, request: Request) -> Response:
    """Stop it."""
    desk.work.stop()
    return done(STOPPING)


def progress_of(desk: JobDesk) -> Callable[[int, int], None]:
    """Says at this desk how many recordings are done, and of how many."""

    def told(number: int, total: int) -> None:
        desk.work.show(done_words(number, total), number / total if total else None)

    return told
