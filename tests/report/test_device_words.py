"""What is wrong with a device says what can be done where it is read."""

from __future__ import annotations

import pytest
from starlette.types import Scope

from voicelog.audio.microphone import DeviceBusyError, DeviceError, DeviceGoneError, NoDeviceError
from voicelog.report.device_words import face_words
from voicelog.report.listening_words import cut_short_before_words
from voicelog.report.soundcheck_words import problem_words
from voicelog.web.responses import error_response

ERRORS = (
    NoDeviceError("in", "headset", ["Built-in"]),
    NoDeviceError("out", "headset", []),
    NoDeviceError("in", None, ()),
    DeviceBusyError("in", "headset", "unanticipated host error"),
    DeviceBusyError("out", "headset", "busy"),
    DeviceGoneError("out", "headset"),
)


@pytest.mark.parametrize("error", ERRORS)
def test_the_page_speaks_of_no_option(error: DeviceError) -> None:
    words = face_words(error, "page")
    assert "--" not in words
    assert "wanted" in words
    assert face_words(error, "terminal") == str(error)
    scope: Scope = {"type": "http", "path": "/api/start/microphone", "headers": []}
    assert words.encode() in bytes(error_response(error, scope).body)


def test_each_face_says_how_another_is_chosen() -> None:
    assert face_words(ERRORS[3], "page") == (
        "Found the microphone 'headset' busy or refusing (unanticipated host error), wanted it "
        "free; close what uses it, or choose another microphone in the list."
    )
    assert problem_words("no sound", rate=16_000, face="page").endswith("another in the list.")
    assert problem_words("no sound", rate=16_000, face="terminal").endswith("another, --device.")
    assert problem_words("no sound", rate=16_000).endswith("or choose another.")
    assert "--" not in cut_short_before_words("monday.flac", "page")
    assert "--resume" in cut_short_before_words("monday.flac", "terminal")
