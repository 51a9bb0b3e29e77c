"""Playing a note's sound where there is no page: through PortAudio, in both ears, to its end."""

from __future__ import annotations

import time

from voicelog.audio import microphone
from voicelog.audio.resampling import RATE, Samples
from voicelog.live.earphone import Earphone
from voicelog.model import VoicelogError

__all__ = ["play_sound"]


def play_sound(sound: Samples, output: str | None = None) -> None:
    """Play it (float32, mono, at RATE) and return at its end. `output` is a part of the device's
    name, None for the system's.

    Raises:
        VoicelogError: there is no device to play it, or it took no sound.
    """
    try:
        earphone = Earphone(name=output, side="both", library=microphone.portaudio())
    except VoicelogError as error:
        raise VoicelogError(f"{error} On the page you hear it too: 'voicelog review'.") from error
    try:
        earphone.play(sound)
        time.sleep(len(sound) / RATE)
    finally:
        earphone.close()
    if earphone.trouble:
        raise VoicelogError(f"The sound was not played: {earphone.trouble}")
