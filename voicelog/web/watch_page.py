"""The watched folder on the page: choosing it, what came in and how it was dated, what waits."""

from __future__ import annotations

from pathlib import Path

from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from voicelog.report.watched_words import (
    NOT_WATCHING,
    STOPPED_WATCHING,
    page_watching_words,
    state_of_watch,
)
from voicelog.web.form_fields import given, text_of
from voicelog.web.job_desk import JobDesk, done, require_this_machine

__all__ = ["start", "stop", "watch", "watch_state"]

_USUAL = ("Recordings", "Voice Memos", "Sync", "Downloads", "Music")
"""Folders of a home that are offered where they are there (common practice, no source)."""


def watch(desk: JobDesk, request: Request) -> Response:
    """The page."""
    there = [str(Path.home() / name) for name in _USUAL if (Path.home() / name).is_dir()]
    state = desk.watching.state()
    return desk.page(
        request,
        "watch.html",
        watched=state is not None,
        usual=there,
        log=str(desk.service.log.folder),
    )


def watch_state(desk: JobDesk, request: Request) -> Response:
    """How it stands, for a page that asks again and again."""
    state = desk.watching.state()
    if state is None:
        none: dict[str, object] = {"trouble": "", "files": [], "changed": []}
        return JSONResponse({"ok": True, "words": NOT_WATCHING, **none})
    words = state_of_watch(state.folder, state.arriving, at_work=desk.watching.at_work)
    files = [
        {"words": note.words, "good": note.outcome in ("heard", "there")} for note in state.notes
    ]
    return JSONResponse(
        {
            "ok": True,
            "words": words,
            "trouble": state.trouble,
            "files": files,
            "changed": list(state.changed),
        }
    )


def start(desk: JobDesk, request: Request) -> Response:
    """Watch a folder of this computer."""
    require_this_machine(request)
    folder = text_of(given(request), "folder")
    desk.watching.start(Path(folder))
    return done(page_watching_words(folder))


def stop(desk: JobDesk, request: Request) -> Response:
    """Watch none."""
    desk.watching.stop()
    return done(STOPPED_WATCHING)
