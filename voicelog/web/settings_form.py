"""The settings on the page: what each means, its basis and its bounds, and changing it."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response

from voicelog.app.settings_change import change_setting, settings_of
from voicelog.report.settings_words import setting_now_words
from voicelog.web.form_fields import given, text_of
from voicelog.web.job_desk import JobDesk, done

__all__ = ["keep_setting", "shown_settings"]


def shown_settings(desk: JobDesk, request: Request) -> Response:
    """All of them, for every dog or for one."""
    log = desk.service.log
    asked = request.query_params.get("dog", "")
    known = log.roster().dog(asked) if asked else None
    dog = known.name if known else ""
    return desk.page(
        request,
        "settings.html",
        dog=dog,
        dogs=[one.name for one in log.roster().dogs],
        settings=settings_of(log, dog),
    )


def keep_setting(desk: JobDesk, request: Request) -> Response:
    """Change one; what it is then."""
    fields = given(request)
    name, dog = text_of(fields, "name"), text_of(fields, "dog")
    value = change_setting(desk.service.log, name, text_of(fields, "value"), dog)
    return done(setting_now_words(name, value, dog))
