"""The shared folder on the page: joining, signing, exchanging, who has what, leaving."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from starlette.requests import Request
from starlette.responses import Response

from voicelog.app import share as sharing
from voicelog.app.open_log import open_log
from voicelog.app.review.errors import BadRequestError
from voicelog.app.session_catalog import SessionCatalog
from voicelog.app.share_signing import sign_share
from voicelog.app.share_trust import SignedSinceError, allow_device
from voicelog.model import VoicelogError
from voicelog.report import share_words
from voicelog.report.share_words import folder_wanted_words
from voicelog.report.work_words import WORK_STARTED
from voicelog.store.share.signing import fingerprint
from voicelog.web.form_fields import given, text_of
from voicelog.web.job_desk import JobDesk, done, require_this_machine
from voicelog.web.long_work import WorkLine
from voicelog.web.upkeep_page import progress_of

__all__ = ["allow", "carry", "leave", "repair", "share", "share_again", "sign", "start"]


def share(desk: JobDesk, request: Request) -> Response:
    """The page: whether the log is shared, which device has what, who may write, what is missing
    or differs."""
    log = desk.service.log
    shared, asked, trouble = sharing.is_shared(log), False, ""
    found: sharing.ShareStatus | None = None
    try:
        found = sharing.share_status(log) if shared else None
    except SignedSinceError:
        asked = True
    except VoicelogError as error:
        trouble = str(error)
    signed = found.signed if found is not None else None
    keys = [] if signed is None else signed.keys
    return desk.page(
        request,
        "share.html",
        shared=shared,
        lines=[] if found is None else list(sharing.status_lines(found, "page")),
        trouble=trouble,
        asked=asked,
        signed=signed,
        keys=[(fingerprint(one.key), share_words.key_words(one), one.allowed) for one in keys],
    )


def start(desk: JobDesk, request: Request) -> Response:
    """Share the log through a folder of this computer, and give out what is there."""
    require_this_machine(request)
    fields = given(request)
    folder, name = _whole_path(text_of(fields, "folder")), text_of(fields, "name")
    place, new = sharing.start_share(
        desk.service.log,
        folder,
        name or None,
        signed=fields.get("signed") is True,
        first=text_of(fields, "first") or None,
    )
    signed = sharing.share_status(desk.service.log).signed
    desk.work.start("share", lambda: _exchanged(desk))
    told = [share_words.started_words(place.folder, new, locked=desk.service.log.locked)]
    if signed is not None:
        told.append(share_words.signed_start_words(signed.first, signed.own, "page"))
    return done(*told)


def sign(desk: JobDesk, request: Request) -> Response:
    """Sign an existing share, as its first device or, with that one's key, as another."""
    require_this_machine(request)
    first = text_of(given(request), "first") or None

    def deed() -> Iterator[WorkLine]:
        with open_log(desk.service.log.folder) as log:
            signed = sign_share(SessionCatalog(log), first, progress_of(desk))
        made = share_words.signed_now_lines(
            signed.state.first, signed.state.own, signed.own, signed.others, "page"
        )
        yield from ((line, True) for line in made)
        if signed.before is not None:
            yield from sharing.share_lines(signed.before)
        else:
            yield from _exchanged(desk)

    desk.work.start("share", deed)
    return done(WORK_STARTED)


def allow(desk: JobDesk, request: Request) -> Response:
    """Say on the first device of a signed share whether what a key signs counts."""
    require_this_machine(request)
    fields = given(request)
    allowed = fields.get("allowed") == "yes"
    found = allow_device(desk.service.log, text_of(fields, "key"), allowed=allowed)
    return done(share_words.allowed_words(found, "page"))


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
