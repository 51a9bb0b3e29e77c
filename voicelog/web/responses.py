"""Pages and JSON, and one shape for what went wrong in either.

An error is `{"ok": false, "error": {"code", "message", "offers"}}` for a program, and a page
with the same sentence for a person. What went wrong inside is told in neither.
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import Any
from urllib.parse import quote

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from starlette.datastructures import Headers
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response
from starlette.types import Scope

from voicelog.app.review.errors import AccessCodeRequiredError, ReviewError
from voicelog.model import VoicelogError
from voicelog.report.device_words import face_words
from voicelog.report.roster_words import cues_words
from voicelog.report.state_words import counted_reps, listed_reps, rep_word, state_class
from voicelog.report.words import clean, clock, counted, day

__all__ = ["error_response", "fragment", "page", "path_step"]

_HERE = Path(__file__).parent


@lru_cache(maxsize=1)
def _environment() -> Environment:
    """Everything put into a page is escaped; a name that is not given is a mistake."""
    made = Environment(
        loader=FileSystemLoader(_HERE / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters |= {"clean": clean, "clock": clock, "day": day, "path": path_step}
    made.filters |= {"state_class": state_class, "rep_word": rep_word}
    made.globals |= {"cues_words": cues_words}
    made.globals |= {"counted": counted, "counted_reps": counted_reps, "listed_reps": listed_reps}
    return made


def path_step(text: str) -> str:
    """Text as one step of an address."""
    return quote(text, safe="")


def fragment(name: str, **values: Any) -> str:
    """A template filled in."""
    return _environment().get_template(name).render(**values)


def page(name: str, *, status: int = 200, **values: Any) -> HTMLResponse:
    """A whole page."""
    return HTMLResponse(fragment(name, **values), status_code=status)


def error_response(error: VoicelogError, scope: Scope) -> Response:
    """What went wrong, as the asker reads it."""
    status = error.status if isinstance(error, ReviewError) else 500
    code = error.code if isinstance(error, ReviewError) else "failed"
    offers = error.offers if isinstance(error, ReviewError) else ()
    words = face_words(error, "page")
    accepts = Headers(scope=scope).get("accept", "")
    if scope["path"].startswith(("/api/", "/sound/")) or "text/html" not in accepts:
        told = {"code": code, "message": words, "offers": list(offers)}
        return JSONResponse({"ok": False, "error": told}, status_code=status)
    if isinstance(error, AccessCodeRequiredError):
        return RedirectResponse("/enter", status_code=303)
    return page("error.html", status=status, message=words, code=code)
