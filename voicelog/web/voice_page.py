"""The voice card on the page, read to the microphone of this computer or brought as a recording;
and the listeners: which there are, and how their models stand."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from starlette.requests import Request
from starlette.responses import Response

from voicelog.app.review.errors import BadRequestError
from voicelog.app.voice_card import card_for, graded_lines, read_card_aloud, reading_lines
from voicelog.audio import microphone
from voicelog.audio.microphone_stream import MicrophoneStream
from voicelog.audio.resampling import Samples
from voicelog.recognition import model_install
from voicelog.report.card_words import line_words
from voicelog.report.listener_words import (
    installed_lines,
    listener_lines,
    model_lines,
    model_wanted_words,
)
from voicelog.report.work_words import WORK_STARTED
from voicelog.web.first_run import microphone_names
from voicelog.web.form_fields import given, text_of
from voicelog.web.job_desk import JobDesk, done, require_this_machine
from voicelog.web.long_work import WorkLine

__all__ = ["install_model", "read_card", "verify_models", "voice"]

PATIENCE_S = 20.0
"""Seconds of silence after which the card is taken to be over, as `voicelog voice` has it."""


def voice(desk: JobDesk, request: Request) -> Response:
    """The page, with the lines to read."""
    devices, trouble = microphone_names()
    return desk.page(
        request,
        "voice.html",
        lines=card_for(desk.service.log.roster()),
        devices=devices,
        trouble=trouble,
        listeners=list(listener_lines()),
    )


def read_card(desk: JobDesk, request: Request) -> Response:
    """Hear the card read line by line; nothing is kept of it."""
    device = text_of(given(request), "device") or None
    roster = desk.service.log.roster()
    lines, work = card_for(roster), desk.work

    def until_stopped(blocks: Iterator[Samples]) -> Iterator[Samples]:
        for block in blocks:
            if work.stopping:
                return
            yield block

    def deed() -> Iterator[WorkLine]:
        shown = ""

        def show(number: int, line: str) -> None:
            nonlocal shown
            shown = line_words(number, len(lines), line)
            if not work.stopping:
                work.show(shown, (number - 1) / len(lines))

        def repeat() -> None:
            work.show(f"{shown} (again, all of it)")

        with MicrophoneStream(microphone.portaudio(), name=device) as stream:
            blocks = until_stopped(stream.blocks(PATIENCE_S))
            reading = read_card_aloud(lines, blocks, show=show, repeat=repeat)
        for line in (*reading_lines(lines, reading), *graded_lines(reading, roster)):
            yield line, True

    work.start("voice", deed)
    return done(WORK_STARTED)


def install_model(desk: JobDesk, request: Request) -> Response:
    """Install a model from an archive or folder of this computer."""
    require_this_machine(request)
    fields = given(request)
    what, sha256 = text_of(fields, "file"), text_of(fields, "sha256")
    if not what or not Path(what).expanduser().is_absolute():
        raise BadRequestError(model_wanted_words(what))
    again = fields.get("again") is True

    def deed() -> Iterator[WorkLine]:
        done_so = model_install.install(what, sha256=sha256 or None, again=again)
        for line in installed_lines(done_so):
            yield line, True

    desk.work.start("voice", deed)
    return done(WORK_STARTED)


def verify_models(desk: JobDesk, request: Request) -> Response:
    """Look through every file of every model."""
    desk.work.start("voice", model_lines)
    return done(WORK_STARTED)
