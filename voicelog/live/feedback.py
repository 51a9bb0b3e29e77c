"""Outputs to sound: tones and words to her ear, each kept as a field event.

It knows when it speaks, since what is heard meanwhile is not sure.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal, Protocol

import numpy as np

from voicelog.app.own_speech import OwnSpeech, field_event_text
from voicelog.audio.resampling import RATE, Samples
from voicelog.live.outputs import CancelSpeech, Output, PlayTone, SpeakWords
from voicelog.live.speech_synthesis import SpeechSynthesizer
from voicelog.live.tones import tone
from voicelog.model import FieldEvent

__all__ = ["AudioOutput", "FeedbackPlayer"]

_NOT_KEPT = ("listening", "waiting")
_NO_SOUND = np.zeros(0, np.float32)


class AudioOutput(Protocol):
    """What sounds in her ear: an `Earphone`, or a test's."""

    @property
    def trouble(self) -> str | None:
        """Why nothing sounds, though there is a device; else None."""

    def play(self, sound: Samples, key: object = None) -> None:
        """Sound it (float32, mono, at RATE) after what waits; never waits itself."""

    def cancel(self, over: Callable[[object], bool]) -> None:
        """Break off, and forget what waits, of the sounds whose key is `over`."""

    def release(self) -> None:
        """Let go of the device for a while."""


class FeedbackPlayer:
    """Sounds through an audio output (None: nothing is heard), with a voice (None: tones only).

    `spoken` is what it said so far, and when; `at_s` is the moment in the recording (s). `late`:
    whether what is heard now is so old that it is shown and not sounded. All methods but `release`
    are for the session's own thread.
    """

    def __init__(
        self,
        recording: str,
        audio_output: AudioOutput | None,
        voice: SpeechSynthesizer | None,
        late: Callable[[], bool] = lambda: False,
    ) -> None:
        self._late = late
        self.spoken: list[OwnSpeech] = []
        self._audio_output = audio_output
        self._recording, self._voice = recording, voice
        self._count = 0
        self._busy_s = 0.0

    @property
    def trouble(self) -> str | None:
        """Why nothing sounds, though there is a device; else None."""
        return self._audio_output.trouble if self._audio_output is not None else None

    def release(self) -> None:
        """Let go of the device for a while; from any thread."""
        if self._audio_output is not None:
            self._audio_output.release()

    def spoken_s(self, words: str) -> float:
        """How long (s) words last when they are spoken here; the warning tone's length where they
        cannot be."""
        sound = self._words(words)
        return len(sound if len(sound) else tone("warning")) / RATE

    def play(self, output: PlayTone, at_s: float) -> FieldEvent | None:
        """Sound a tone; its event, None for tones of which none is kept, and where it is late."""
        late = self._late()
        self._sound(tone(output.tone), output)
        return None if late or output.tone in _NOT_KEPT else self.event("tone", output.tone, at_s)

    def say(self, output: SpeakWords, at_s: float) -> FieldEvent:
        """Speak, after the tone of its own where it has one; a warning that cannot be spoken is a
        tone alone."""
        what: Literal["warning", "tone"] = "warning" if output.rule else "tone"
        before = tone(output.tone) if output.tone else _NO_SOUND
        words = self._words(output.words)
        if not len(words):
            if output.rule is not None:
                self._sound(tone(output.tone or "warning"), output)
            return self.event(what, f"shown: {output.words}", at_s)
        sound = np.concatenate([before, words])
        if self._late():
            self._sound(sound, output)
            return self.event(what, f"shown: {output.words}", at_s)
        start_s = max(at_s, self._busy_s)
        spoken = OwnSpeech(round(start_s, 3), round(start_s + len(sound) / RATE, 3), output.words)
        self._busy_s = spoken.end_s
        self.spoken.append(spoken)
        self._sound(sound, output)
        if self.trouble is not None:
            return self.event(what, f"shown: {output.words}", at_s)  # nobody heard it
        return self.event(what, field_event_text(spoken, output.rule), spoken.start_s)

    def cancel(self, output: CancelSpeech, at_s: float) -> None:
        """Be silent at once about what no longer stands, or has to wait."""
        self._busy_s = min(self._busy_s, at_s)
        if self._audio_output is not None:
            self._audio_output.cancel(output.covers)

    def event(
        self,
        what: Literal["tone", "warning", "acknowledgement", "device", "clock"],
        detail: str,
        at_s: float,
    ) -> FieldEvent:
        """Something that happened in this recording, with an id of its own."""
        self._count += 1
        return FieldEvent(
            id=f"f-{self._recording[:12]}-{self._count:06d}",
            recording=self._recording,
            at_s=round(at_s, 3),
            what=what,
            detail=detail,
        )

    def _words(self, words: str) -> Samples:
        return self._voice.sound(words) if self._voice and self._audio_output else _NO_SOUND

    def _sound(self, sound: Samples, output: Output) -> None:
        if self._audio_output is not None:
            self._audio_output.play(sound, output)
