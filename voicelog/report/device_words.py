"""What is wrong with a microphone or an earphone, in the words of the face that shows it.

An error of a device says at the terminal which option names another. On the page nobody has typed
an option: there another is chosen in the list.
"""

from __future__ import annotations

from collections.abc import Mapping

from voicelog.audio.microphone import DeviceBusyError, Direction, NoDeviceError
from voicelog.model import VoicelogError
from voicelog.report.words import Face

__all__ = ["face_words", "no_microphone_words"]

_WHAT: Mapping[Direction, str] = {"in": "microphone", "out": "earphone"}


def face_words(error: VoicelogError, face: Face) -> str:
    """An error's sentence as the `face` says it; only errors of devices differ."""
    if face == "terminal":
        return str(error)
    match error:
        case NoDeviceError(name=str()):
            what = _WHAT[error.way]
            return (
                f"Found no {what} '{error.name}' any more, wanted the one that was chosen; plug "
                f"it in again, or reload this page and choose another {what} in the list."
            )
        case DeviceBusyError():
            what = _WHAT[error.way]
            return (
                f"Found the {what} '{error.name}' busy or refusing ({error.reason}), wanted it "
                f"free; close what uses it, or choose another {what} in the list."
            )
        case _:
            return str(error)


def no_microphone_words() -> str:
    """That there is no microphone at all, as the page says it."""
    return "Found no microphone, wanted one; plug it in and reload this page."
