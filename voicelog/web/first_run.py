"""The first run on the page: dogs, a microphone test, a recording to try; each can be skipped."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response

from voicelog.app.review.errors import BadRequestError, NotFoundError
from voicelog.app.review.review_service import ReviewService
from voicelog.app.roster import change_dog
from voicelog.app.soundcheck import MicrophoneCheck, check_microphone, soundcheck_line
from voicelog.audio import microphone
from voicelog.audio.microphone import list_devices
from voicelog.model import VoicelogError
from voicelog.report.device_words import face_words, no_microphone_words
from voicelog.report.roster_words import on_roster_words
from voicelog.report.soundcheck_words import NOTHING_TO_CHANGE, level_words, problem_words
from voicelog.report.state_words import status_word
from voicelog.report.words import clean
from voicelog.web.form_fields import given, text_of
from voicelog.web.job_desk import JobDesk, done

__all__ = ["FIRST_STEP", "first_dog", "is_first_run", "microphone_names", "step", "try_microphone"]

_STEPS = ("dogs", "microphone", "recording")
FIRST_STEP = "/start/dogs"
TEST_S = 8.0
"""How long the microphone is listened to, s."""


def is_first_run(service: ReviewService) -> bool:
    """Whether nothing at all is in the log yet."""
    roster = service.log.roster()
    return not roster.dogs and not roster.handlers and not service.log.recordings()


def step(desk: JobDesk, request: Request) -> Response:
    """One of the three steps."""
    name = request.path_params["step"]
    if name not in _STEPS:
        raise NotFoundError("Found no such step; go back to the sessions.")
    place = _STEPS.index(name)
    dogs = desk.service.log.roster().dogs
    devices, trouble = microphone_names() if name == "microphone" else ([], "")
    return desk.page(
        request,
        "start.html",
        step=name,
        place=place + 1,
        after=f"/start/{_STEPS[place + 1]}" if place + 1 < len(_STEPS) else "/?from=start",
        dogs=dogs,
        line=soundcheck_line(dogs[0] if dogs else None),
        seconds=int(TEST_S),
        devices=devices,
        trouble=trouble,
    )


def first_dog(desk: JobDesk, request: Request) -> Response:
    """Put a dog on the roster with what matters on the first day: top level and cue."""
    fields = given(request)
    top, cue = text_of(fields, "top"), text_of(fields, "cue")
    if top and not (top.isascii() and top.isdigit() and len(top) < 6):
        raise BadRequestError("The top level has no number; type one such as 20.")
    changes: dict[str, object] = {"cues": (cue,)} if cue else {}
    if top:
        changes["transmitter"] = {"top": int(top)}
    changed = change_dog(desk.service.log, text_of(fields, "name"), changes, seen="")
    return done(on_roster_words(changed.dog.name), changed.tidied, *changed.conflicts)


def try_microphone(desk: JobDesk, request: Request) -> Response:
    """Listen to a microphone for some seconds, and say what was understood."""
    device = text_of(given(request), "device") or None
    roster = desk.service.log.roster()
    line = soundcheck_line(next(iter(roster.dogs), None))
    tried = check_microphone(microphone.portaudio(), line, roster, seconds=TEST_S, device=device)
    return done(*_lines(tried))


def _lines(tried: MicrophoneCheck) -> list[str]:
    found = tried.found
    missed = [phrase for phrase, status in found.phrases if status == "rejected"]
    told = [f"{clean(tried.name)}, {tried.rate} Hz: {level_words(found.level)}."]
    told += [f"{status_word(status)}: {phrase}" for phrase, status in found.phrases]
    told += [
        problem_words(one, rate=tried.rate, missed=missed, face="page") for one in found.problems
    ]
    return told if found.problems else [*told, NOTHING_TO_CHANGE]


def microphone_names() -> tuple[list[str], str]:
    """The names of the microphones there are, the system's first; and why there is none."""
    try:
        found = list_devices("in", microphone.portaudio())
    except VoicelogError as error:
        return [], face_words(error, "page")
    names = [one.name for one in sorted(found, key=lambda one: not one.default)]
    return list(dict.fromkeys(names)), "" if names else no_microphone_words()
