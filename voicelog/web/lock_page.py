"""The lock on the page: how the log lies on the disk, locking it, its passphrase, the keyring."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from voicelog.app.lock import check_passphrase, forget_key, lock_situation, remember_key
from voicelog.app.review.errors import BadRequestError
from voicelog.report.lock_words import (
    KEYRING_FORGOT,
    KEYRING_HAD_NOT,
    LOST,
    NOT_THE_SAME,
    PASSPHRASE_CHANGED,
    keyring_opens_words,
    situation_words,
)
from voicelog.web.form_fields import given
from voicelog.web.job_desk import JobDesk, done
from voicelog.web.lock_door import last_answer

__all__ = ["change_passphrase", "forget", "lock", "lock_off", "lock_on", "remember", "unlocked"]


def lock(desk: JobDesk, request: Request) -> Response:
    """The page with the state, and what can be done about it."""
    found = lock_situation(desk.service.log.folder)
    return desk.page(
        request,
        "lock.html",
        locked=desk.service.log.locked,
        remembered=found.remembered,
        state=situation_words(found.folder, found.state, found.remembered),
        told=desk.keeper.told,
        lost=LOST,
    )


def lock_on(desk: JobDesk, request: Request) -> Response:
    """Lock the log: the page is closed for it, and comes back."""
    if desk.service.log.locked:
        raise BadRequestError("Found this log locked already; load this page again.")
    desk.keeper.ask_to_lock(_twice(request))
    return _reopened(desk)


def lock_off(desk: JobDesk, request: Request) -> Response:
    """Take the lock off, in the same way."""
    if not desk.service.log.locked:
        raise BadRequestError("Found this log not locked; load this page again.")
    desk.keeper.ask_to_open(_secret(request, "passphrase"), _address(request))
    return _reopened(desk)


def change_passphrase(desk: JobDesk, request: Request) -> Response:
    """Another passphrase, for who types the one that it has."""
    new = _twice(request)
    desk.keeper.replace(_secret(request, "old"), new, _address(request))
    return done(PASSPHRASE_CHANGED)


def remember(desk: JobDesk, request: Request) -> Response:
    """Let the system's keyring open the log."""
    return done(keyring_opens_words(remember_key(desk.service.log.folder)))


def forget(desk: JobDesk, request: Request) -> Response:
    """Take the key out of the keyring again."""
    there = forget_key(desk.service.log.folder)
    return done(KEYRING_FORGOT if there else KEYRING_HAD_NOT)


def unlocked(desk: JobDesk, request: Request) -> Response:
    """Where the passphrase was asked for: it is not asked for now."""
    return RedirectResponse("/", status_code=303)


# --- within -----------------------------------------------------------------------------


def _reopened(desk: JobDesk) -> Response:
    desk.close()
    return last_answer(done(go="/lock"))


def _secret(request: Request, name: str) -> str:
    """A passphrase as it was typed, blanks at its ends too."""
    value = given(request).get(name, "")
    return value if isinstance(value, str) else ""


def _twice(request: Request) -> str:
    """A passphrase that was typed twice, and would keep somebody out."""
    first = _secret(request, "passphrase")
    if first != _secret(request, "again"):
        raise BadRequestError(NOT_THE_SAME)
    check_passphrase(first)
    return first


def _address(request: Request) -> str:
    return request.client.host if request.client else ""
