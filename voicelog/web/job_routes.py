"""Where the pages of the whole job are found."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from voicelog.report.review_words import PAGE_CLOSED
from voicelog.web import (
    delete_page,
    first_run,
    incoming_page,
    live_page,
    lock_page,
    names_page,
    people_page,
    phone_page,
    rehear_page,
    settings_form,
    share_page,
    take_out,
    upkeep_page,
    voice_page,
    watch_page,
    words_page,
)
from voicelog.web.job_desk import JobDesk, JobHandler, done, refusing
from voicelog.web.routing import route

__all__ = ["job_routes"]


def job_routes(desk: JobDesk) -> list[Route]:
    """The routes; they come before all others, since a dog's name may have a slash in it."""

    def to(path: str, handler: JobHandler, *methods: str) -> Route:
        return route(path, refusing(desk, handler), *methods)

    return [
        to("/more", _more),
        to("/api/close", _close, "POST"),
        to("/start/{step}", first_run.step),
        to("/api/start/dog", first_run.first_dog, "POST"),
        to("/api/microphone", first_run.try_microphone, "POST"),
        to("/add", incoming_page.add),
        to("/demo", incoming_page.demo),
        to("/api/demo", incoming_page.hear_demo, "POST"),
        to("/api/incoming", incoming_page.listed),
        to("/api/incoming", incoming_page.begin, "POST"),
        to("/api/incoming/{id}/bytes", incoming_page.piece, "POST"),
        to("/api/incoming/{id}", incoming_page.act, "POST"),
        to("/live", live_page.live),
        to("/api/live", live_page.live_state),
        to("/api/live/start", live_page.start, "POST"),
        to("/api/live/stop", live_page.stop, "POST"),
        to("/api/live/complete", live_page.complete, "POST"),
        to("/phone", phone_page.phone),
        to("/phone/{which}.svg", phone_page.code_picture),
        to("/api/phone", phone_page.phone_state),
        to("/api/phone/start", phone_page.start, "POST"),
        to("/api/phone/stop", phone_page.stop, "POST"),
        to("/upkeep", upkeep_page.upkeep),
        to("/api/check", upkeep_page.check, "POST"),
        to("/api/check/accept", upkeep_page.accept, "POST"),
        to("/api/rebuild", upkeep_page.rebuild, "POST"),
        to("/api/work", upkeep_page.work_status),
        to("/api/stop-work", upkeep_page.stop_work, "POST"),
        to("/rehear", rehear_page.rehear),
        to("/api/rehear", rehear_page.rehear_now, "POST"),
        to("/api/rehear/take", rehear_page.take_over, "POST"),
        to("/voice", voice_page.voice),
        to("/api/voice", voice_page.read_card, "POST"),
        to("/api/listeners/install", voice_page.install_model, "POST"),
        to("/api/listeners/check", voice_page.verify_models, "POST"),
        to("/watch", watch_page.watch),
        to("/api/watch", watch_page.watch_state),
        to("/api/watch/start", watch_page.start, "POST"),
        to("/api/watch/stop", watch_page.stop, "POST"),
        to("/share", share_page.share),
        to("/api/share/start", share_page.start, "POST"),
        to("/api/share/sign", share_page.sign, "POST"),
        to("/api/share/allow", share_page.allow, "POST"),
        to("/api/share/now", share_page.share_again, "POST"),
        to("/api/share/carry", share_page.carry, "POST"),
        to("/api/share/repair", share_page.repair, "POST"),
        to("/api/share/leave", share_page.leave, "POST"),
        to("/lock", lock_page.lock),
        to("/unlock", lock_page.unlocked),
        to("/api/lock/on", lock_page.lock_on, "POST"),
        to("/api/lock/off", lock_page.lock_off, "POST"),
        to("/api/lock/passphrase", lock_page.change_passphrase, "POST"),
        to("/api/lock/remember", lock_page.remember, "POST"),
        to("/api/lock/forget", lock_page.forget, "POST"),
        to("/people", people_page.people),
        to("/api/handler", people_page.change_handler, "POST"),
        to("/api/dog/off", people_page.take_dog_off, "POST"),
        to("/take-out", take_out.take_out),
        to("/take-out/{name}", take_out.taken_out),
        to("/names", names_page.names),
        to("/api/name", names_page.answer, "POST"),
        to("/words", words_page.words),
        to("/words/check", words_page.checked_words),
        to("/settings", settings_form.shown_settings),
        to("/api/setting", settings_form.keep_setting, "POST"),
        to("/delete", delete_page.deletion),
        to("/delete/look", delete_page.look_before),
        to("/api/delete", delete_page.delete_it, "POST"),
        to("/dogs/{name:path}/owner", take_out.owner),
        to("/dogs/{name:path}/owner.pdf", take_out.owner_report),
    ]


def _close(desk: JobDesk, request: Request) -> Response:
    """End the program, once it has answered."""
    desk.close()
    return done(PAGE_CLOSED)


def _more(desk: JobDesk, request: Request) -> Response:
    """The page that leads to those which are not needed every day."""
    return desk.page(request, "more.html")
