"""What the pages of the whole job share: the log, who asks, and one way to refuse.

These pages do what the terminal does, through the same functions of `voicelog.app`. A page of them
is one module with plain functions from a request to an answer.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from voicelog.app.hearing_process import HearingProcess
from voicelog.app.listening import LiveProcess
from voicelog.app.lock import KeyringFailedError
from voicelog.app.phone_process import PhoneProcess
from voicelog.app.rehear import HeardAgain
from voicelog.app.review.errors import (
    BadRequestError,
    ForbiddenError,
    NotFoundError,
    ReviewError,
)
from voicelog.app.review.review_service import ReviewService
from voicelog.app.watching import WatchingProcess
from voicelog.audio.locked_files import NoLockLibraryError
from voicelog.grammar.pronunciation import NoPronunciationError
from voicelog.model import VoicelogError
from voicelog.report.work_words import ONLY_HERE
from voicelog.store.errors import LogError, UnknownNameError
from voicelog.store.log_lock import ShortPassphraseError
from voicelog.web.lock_keeper import LockKeeper
from voicelog.web.long_work import LongWork

__all__ = ["JobDesk", "JobHandler", "done", "refusing", "require_this_machine"]

JobHandler = Callable[["JobDesk", Request], Response]


@dataclass(frozen=True, slots=True)
class JobDesk:
    """What a page needs: the log's service, how a template is shown within the frame of all pages
    (request, name, values), the name of who asks, the process that hears what came, the live
    session, the watched folder, the page for phones, the lock, the long work of the page, what was
    heard again, and what ends the server."""

    service: ReviewService
    page: Callable[..., Response]
    who: Callable[[Request], str]
    hearing: HearingProcess
    live: LiveProcess
    watching: WatchingProcess
    phone: PhoneProcess
    keeper: LockKeeper
    work: LongWork
    heard_again: HeardAgain
    close: Callable[[], None]


def refusing(desk: JobDesk, handler: JobHandler) -> Callable[[Request], Response]:
    """The handler at this desk; what the program refuses is answered as a refusal, not as a fault
    of the server. Faults of the log itself stay what they are."""

    def answered(request: Request) -> Response:
        try:
            return handler(desk, request)
        except UnknownNameError as error:
            raise NotFoundError(str(error)) from error
        except (KeyringFailedError, NoLockLibraryError, ShortPassphraseError) as error:
            raise BadRequestError(str(error)) from error
        except (ReviewError, LogError):
            raise
        except (VoicelogError, NoPronunciationError) as error:
            raise BadRequestError(str(error)) from error

    return answered


def done(*told: str, go: str | None = None) -> Response:
    """That something is done: what to say, and the page that shows it (None: the same, anew)."""
    return JSONResponse({"ok": True, "told": [line for line in told if line], "go": go})


def require_this_machine(request: Request) -> None:
    """Raises ForbiddenError where a request comes over the network: whoever has the access code may
    read the log, and not the other folders of the computer."""
    if request.client is None or request.client.host not in ("127.0.0.1", "::1"):
        raise ForbiddenError(ONLY_HERE)
