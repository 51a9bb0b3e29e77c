"""The shared folder at the page: joining, exchanging, who has what, leaving."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from starlette.requests import Request
from starlette.responses import Response

from voicelog.app import share as sharing
from voicelog.app.open_log import open_log
from voicelog.app.review.errors import BadRequestError
from voicelog.app.session_catalog import SessionCatalog
from voicelog.model import VoicelogError
from voicelog.report import share_words
from voicelog.report.share_words import folder_wanted_words
from voicelog.report.work_words import WORK_STARTED
from voicelog.web.form_fields import given, text_of
from voicelog.web.job_desk import JobDesk, done, require_this_machine
from voicelog.web.long_work import WorkLine
from voicelog.web.upkeep_page import progress_of

__all__ = ["carry", "leave", "repair", "share", "share_again", "start"]


def share(desk: JobDesk, request: Request) -> Response:
    """The page: whether the log is shared, which device has what, what is missing or differs."""
    log = desk.service.log
    shared, lines, trouble = sharing.is_shared(log), [], ""
    try:
        lines = list(sharing.status_lines(sharing.share_status(log))) if shared else []
    except VoicelogError as error:
        trouble = str(error)
    return desk.page(request, "share.html", shared=shared, lines=lines, trouble=trouble)


def start(desk: JobDesk, request: Request) -> Response:
    """Share the log through a folder of this computer, and give out what is there."""
    require_this_machine(request)
    fields = given(request)
    folder, name = _whole_path(text_of(fields, "folder")), text_of(fields, "name")
    place, new = sharing.start_share(desk.service.log, folder, name or None)
    desk.work.start("share", lambda: _exchanged(desk))
    locked = desk.service.log.locked
    return done(share_words.started_words(place.folder, new, locked=locked))


def share_again(desk: JobDesk, request: Request) -> Response:
    """Write what is new into the folder, and take in what has come."""
    desk.work.start("share", lambda: _exchanged(desk))
    return done(WORK_STARTED)


def carry(desk: JobDesk, request: Request) -> Response:
    """Copy the shared folder to a stick and back, then take in what came."""
    require_this_machine(request)
    folder = _whole_path(text_of(given(request), "folder"))

    def deed() -> Iterator[WorkLine]:
        with open_log(desk.service.log.folder) as log:
            carried = sharing.carry_share(log, folder)
        yield share_words.carried_words(carried.out, carried.back, folder, "page"), True
        yield from _exchanged(desk)

    desk.work.start("share", deed)
    return done(WORK_STARTED)


def repair(desk: JobDesk, request: Request) -> Response:
    """Write again what is damaged or missing in the folder."""

    def deed() -> Iterator[WorkLine]:
        with open_log(desk.service.log.folder) as log:
            yield share_words.repaired_words(*sharing.repair_share(log)), True

    desk.work.start("share", deed)
    return done(WORK_STARTED)


def leave(desk: JobDesk, request: Request) -> Response:
    """Stop sharing; the log keeps everything."""
    return done(share_words.left_words(sharing.leave_share(desk.service.log)))


def _whole_path(text: str) -> Path:
    if not text or not Path(text).expanduser().is_absolute():
        raise BadRequestError(folder_wanted_words(text))
    return Path(text)


def _exchanged(desk: JobDesk) -> Iterator[WorkLine]:
    with open_log(desk.service.log.folder) as log:
        result = sharing.share_now(SessionCatalog(log), progress_of(desk))
        yield from sharing.share_lines(result)
