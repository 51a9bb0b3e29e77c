"""A live session on the sound of a phone: one more microphone and one more mouth for the same
session, with a clock that only the phone's sound moves."""

from __future__ import annotations

import threading
from collections.abc import Callable
from time import monotonic

from voicelog.app.phone_sound import PhoneRecording, PhoneSound
from voicelog.audio.recorder import Pcm, as_pcm
from voicelog.audio.resampling import RATE
from voicelog.live.live_session import LiveSession
from voicelog.live.live_setup import ListenOptions, make_live_setup
from voicelog.live.lock import live_lock
from voicelog.live.phone_answers import LATE_S, PhoneAnswer, PhoneAnswers
from voicelog.live.phone_microphone import PhoneMicrophone
from voicelog.live.recognition_process import RecognitionProcess
from voicelog.live.recognition_supervisor import StartRecognition
from voicelog.live.sample_clock import SampleClock
from voicelog.live.speech_synthesis import SpeechSynthesizer
from voicelog.model import VoicelogError
from voicelog.report.phone_words import SAID_OUT_OF_REACH, SAID_REACHED, sound_unreadable_words
from voicelog.store import Log

__all__ = ["PhoneListening"]

IDLE_S = 600.0
"""After how long (s) without sound a session is left where the sound of another waits."""


class PhoneListening:
    """Live sessions on what phones send, one at a time. `listen` is for one thread; what the phone
    asks and tells comes from others.

    Args:
        options: how a session is worked, asked before each.
        voice: who speaks; None: tones only.
        on_note: takes a line for whoever reads a list.
        start_recognition: how the recognizers are begun.

    `late_s` is the age (s) from which nothing is sounded; `alone` and `reached` are what the phone
    says itself when the laptop goes out of reach and is back: sound as in `PhoneAnswer`, empty
    without a voice.
    """

    late_s = LATE_S

    def __init__(
        self,
        options: Callable[[Log], ListenOptions],
        voice: SpeechSynthesizer | None,
        on_note: Callable[[str], None],
        start_recognition: StartRecognition = RecognitionProcess,
    ) -> None:
        self._options, self._voice, self._on_note = options, voice, on_note
        self._start_recognition = start_recognition
        self._one = threading.Lock()
        self._live: LiveSession | None = None
        self._answers: PhoneAnswers | None = None
        self._recording = ""
        self._left = False
        self.alone, self.reached = map(self._said, (SAID_OUT_OF_REACH, SAID_REACHED))

    def listen(self, log: Log, sound: PhoneSound, kept: PhoneRecording) -> bool:
        """Hear a recording of a phone from its first sample to its last, as these come; whether all
        of it is in the log then. Where not, `PhoneSound.add_waiting` completes it.

        Raises:
            AlreadyListeningError: another session is at work on this log.
            VoicelogError: those of `LiveSession.run`.
        """
        with live_lock(log.folder):
            clock = SampleClock(kept.started_at)
            setup = make_live_setup(log, self._options(log), clock)
            answers = PhoneAnswers(lambda: round(RATE * live.heard_s))

            came_s = monotonic()

            def read(start: int, most: int, wait_s: float) -> Pcm | None:
                nonlocal came_s
                try:
                    pcm = sound.read(kept.id, start, most, wait_s)
                except (OSError, VoicelogError) as error:
                    self._on_note(sound_unreadable_words(str(error)))
                    live.leave()
                    return None
                if pcm is None or len(pcm):
                    came_s = monotonic()
                elif monotonic() - came_s > IDLE_S and _others_wait(sound, kept):
                    live.leave()
                return pcm

            microphone = PhoneMicrophone(
                read,
                clock,
                lag_s=lambda: 0.0 if live.hearing_ended else live.lag_s,
                taken=lambda: live.samples,
                over=lambda: live.stop(),
            )
            live = LiveSession(
                setup,
                microphone=microphone.open,
                audio_output=answers,
                voice=self._voice,
                start_recognition=self._start_recognition,
                on_note=self._on_note,
                recording=kept.id,
                late=lambda: answers.late,
            )
            with self._one:
                self._live, self._answers, self._recording = live, answers, kept.id
                if self._left:
                    live.leave()
            try:
                whole = live.run()
            finally:
                with self._one:
                    self._live = None
                answers.close()
        whole = whole and sound.have(kept.id) == clock.samples
        if whole:
            sound.let_go(kept)
        return whole

    def leave(self) -> None:
        """End the session that runs, and begin no other; what it did not hear is completed when the
        recording is whole."""
        with self._one:
            self._left = True
            if self._live is not None:
                self._live.leave()

    def told(self, recording: str, recorded: int | None) -> None:
        """The phone says how much of a recording it has made; see `PhoneAnswers.told`."""
        if (answers := self._answers_of(recording)) is not None:
            answers.told(recorded)

    def wait(
        self, recording: str, recorded: int | None, after: int, seconds: float
    ) -> tuple[PhoneAnswer, ...] | None:
        """What the phone is to sound or show; see `PhoneAnswers.wait`. None: nobody listens to this
        recording, or not any more and all was told."""
        answers = self._answers_of(recording)
        if answers is None:
            return None
        found = answers.wait(recorded, after, seconds)
        return found if found or not answers.over else None

    def _answers_of(self, recording: str) -> PhoneAnswers | None:
        with self._one:
            mine = self._recording == recording
            return self._answers if mine else None

    def _said(self, words: str) -> bytes:
        if self._voice is None:
            return b""
        return as_pcm(self._voice.sound(words)).astype("<i2").tobytes()


def _others_wait(sound: PhoneSound, kept: PhoneRecording) -> bool:
    return any(one.id != kept.id for one in (*sound.arriving(), *sound.waiting()))
