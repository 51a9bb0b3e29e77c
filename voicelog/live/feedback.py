"""Acts to sound: tones and words to her ear, each kept as a field event.

It knows when it speaks, since what is heard meanwhile is not sure.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal, Protocol

import numpy as np

from voicelog.app.own_speech import OwnSpeech, said
from voicelog.audio.resampling import RATE, Samples
from voicelog.live.outputs import CancelSpeech, Output, PlayTone, SpeakWords
from voicelog.live.speech_synthesis import SpeechSynthesizer
from voicelog.live.tones import tone
from voicelog.model import FieldEvent

__all__ = ["AudioOutput", "FeedbackPlayer"]

_NOT_KEPT = ("listening", "waiting")
_NO_SOUND = np.zeros(0, np.float32)


class AudioOutput(Protocol):
    """What sounds in her ear: `player.Earphone`, or a test's. `trouble`: why it does not."""

    trouble: str | None

    def play(self, sound: Samples, key: object = None, *, urgent: bool = False) -> None:
        """Sound it, after what waits or before it."""

    def hush(self, over: Callable[[object], bool]) -> None:
        """Break off, and forget what waits, of the sounds whose key is `over`."""

    def release(self) -> None:
        """Let go of the device for a while."""


class FeedbackPlayer:
    """Sounds acts through a mouth (None: nothing is heard) with a voice (None: tones only).

    `spoken` is what it said so far, and when: times are seconds (s) in the recording.
    """

    def __init__(
        self, recording: str, mouth: AudioOutput | None, voice: SpeechSynthesizer | None
    ) -> None:
        self.spoken: list[OwnSpeech] = []
        self.mouth = mouth
        self._recording, self._voice = recording, voice
        self._count = 0
        self._busy_s = 0.0

    def play(self, act: PlayTone, at_s: float) -> FieldEvent | None:
        """Sound a tone."""
        self._sound(tone(act.tone), act, urgent=act.urgent)
        return None if act.tone in _NOT_KEPT else self.event("tone", act.tone, at_s)

    def say(self, act: SpeakWords, at_s: float) -> FieldEvent:
        """Speak; a warning that cannot be spoken is a tone of its own."""
        what: Literal["warning", "tone"] = "warning" if act.rule else "tone"
        words = self._voice.sound(act.words) if self._voice and self.mouth else _NO_SOUND
        if not len(words):
            if act.rule is not None:
                self._sound(tone("warning"), act, urgent=act.urgent)
            return self.event(what, f"shown: {act.words}", at_s)
        start_s = at_s if act.urgent else max(at_s, self._busy_s)
        spoken = OwnSpeech(round(start_s, 3), round(start_s + len(words) / RATE, 3), act.words)
        self._busy_s = spoken.end_s
        self.spoken.append(spoken)
        self._sound(words, act, urgent=act.urgent)
        if self.mouth is not None and self.mouth.trouble is not None:
            return self.event(what, f"shown: {act.words}", at_s)  # nobody heard it
        return self.event(what, said(spoken, act.rule), spoken.start_s)

    def hush(self, act: CancelSpeech) -> None:
        """Be silent at once about what no longer stands."""
        if self.mouth is not None:
            self.mouth.hush(act.covers)

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

    def _sound(self, sound: Samples, act: Output, *, urgent: bool = False) -> None:
        if self.mouth is not None:
            self.mouth.play(sound, act, urgent=urgent)
