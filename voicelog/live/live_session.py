"""A live recording: devices, recognition, the log and the dialogue, put together.

The flow is that of a recording from disk: utterances come in, each is committed with its
readings and its verdict, and all that follows is derived from what was committed. What is
live here is only when: a tone follows its commit, and time passes between utterances.

The session runs in the thread that called `run`. All other threads, and the recognition
process, reach it by messages in one queue.
"""

from __future__ import annotations

import queue
import secrets
import threading
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import suppress
from typing import Any, assert_never

from voicelog.app.derivation_walk import Derived
from voicelog.app.intake import Intake, RecognizedUtterance
from voicelog.app.own_speech import EARPIECE, is_over_own_speech, lower_overlapping_verdict
from voicelog.audio.resampling import RATE
from voicelog.live.equipment_watch import EquipmentWatch
from voicelog.live.feedback import AudioOutput, FeedbackPlayer
from voicelog.live.kept_recording import KeptRecording
from voicelog.live.live_setup import LiveSetup
from voicelog.live.microphone_monitor import BlockLevel
from voicelog.live.microphone_supervisor import (
    CaptureFailed,
    MicrophoneChanged,
    MicrophoneMessage,
    MicrophoneReopened,
    MicrophoneSupervisor,
    OpenMicrophone,
)
from voicelog.live.output_performer import OutputPerformer
from voicelog.live.outputs import LogFieldEvent, PlayTone
from voicelog.live.recognition_messages import (
    AllRecognized,
    CarefulStopped,
    RecognitionDied,
    RecognitionFailed,
    RecognitionMessage,
    RecognitionProgress,
    RecognizersReady,
    SpeechChanged,
    UtteranceRecognized,
    UtteranceUndecided,
)
from voicelog.live.recognition_process import RecognitionProcess, RecognitionRequest
from voicelog.live.recognition_supervisor import SLOW_S, RecognitionSupervisor, StartRecognition
from voicelog.live.speech_synthesis import SpeechSynthesizer
from voicelog.model import Event, Verdict, VoicelogError
from voicelog.report.screen_words import (
    HEARING_LOST,
    MICROPHONE_STUCK,
    STORING,
    hearing_stuck_words,
)
from voicelog.report.state_words import status_word
from voicelog.store import LogError, Recording

__all__ = ["LiveSession", "OpenMicrophone"]

TICK_S = 0.1
"""Seconds between two looks at devices, disk and clock."""


class LiveSession:
    """One live recording, and the source of its utterances for the intake.

    It starts when it is made: that is the wall clock's time kept with it. `run` it until `stop`
    is called. Without an `audio_output` nothing sounds, without a `voice` only tones do.
    `on_change` is called a few times a second for whoever draws a screen, `on_note` with a line
    for whoever reads a list, both from the thread that runs it. `tick_s` is the time (s)
    between two looks at devices, disk and clock. `recording`: its id, 32 hexadecimal digits,
    where it has one already. `late`: whether what is heard now is too old to be sounded; it is
    shown then.

    Properties may be read from any thread. `unheard_s`: for how long (s) nothing had been heard
    when it ended.
    """

    note: str | None = None
    unheard_s = 0.0

    def __init__(
        self,
        setup: LiveSetup,
        *,
        microphone: OpenMicrophone,
        audio_output: AudioOutput | None,
        voice: SpeechSynthesizer | None,
        start_recognition: StartRecognition = RecognitionProcess,
        on_change: Callable[[LiveSession], None] = lambda live: None,
        on_note: Callable[[str], None] = lambda words: None,
        tick_s: float = TICK_S,
        recording: str | None = None,
        late: Callable[[], bool] = lambda: False,
    ) -> None:
        self.setup, self.dialogue = setup, setup.dialogue
        self.id = recording or secrets.token_hex(16)
        self.feedback = FeedbackPlayer(self.id, audio_output, voice, late)
        self.dialogue.spoken_s = self.feedback.spoken_s
        self._on_change, self._on_note, self._tick_s = on_change, on_note, tick_s
        self._messages: queue.SimpleQueue[RecognitionMessage | MicrophoneMessage] = (
            queue.SimpleQueue()
        )
        self._stopping, self._leaving = threading.Event(), threading.Event()
        self._started_at = setup.clock.wall()
        self._kept = KeptRecording(setup.log, self.id)
        self._recognition = RecognitionSupervisor(
            RecognitionRequest(setup.recognition.roster, self.id, setup.optional, setup.listener),
            self._kept,
            start_recognition=start_recognition,
            on_message=self._messages.put,
        )
        self._microphone = MicrophoneSupervisor(
            microphone,
            on_samples=self._recognition.take,
            on_message=self._messages.put,
            release_output=self.feedback.release,
            clock=setup.clock,
        )
        self._perform = OutputPerformer(
            self.dialogue,
            self.feedback,
            self._kept,
            derive=self._derived,
            at_s=lambda: self.at_s,
            heard_s=self._heard_through,
            on_note=on_note,
        ).perform
        self._equipment = EquipmentWatch(
            self.dialogue,
            kept=self._kept,
            recognition=self._recognition,
            feedback=self.feedback,
            clock=setup.clock,
            perform=self._perform,
            on_note=on_note,
        )
        self._heard_s = 0.0
        self._cut_short = False
        self._over_own_speech = False

    # --- from outside --------------------------------------------------------------------

    def stop(self) -> None:
        """Take no more sound, recognize what there is, and finish; asked twice, leave the rest.

        For any thread and for signal handlers; it does not wait.
        """
        if self._stopping.is_set():
            self._leaving.set()
        self._stopping.set()

    def leave(self) -> None:
        """End at once and leave the recording open, to be completed from its sound. For any
        thread."""
        self._cut_short = True
        self._leaving.set()
        self._stopping.set()

    @property
    def hearing_ended(self) -> bool:
        """Whether recognition died too often to be begun anew; the sound is kept all the same."""
        return self._recognition.given_up

    @property
    def samples(self) -> int:
        """Samples (at RATE) that came and were taken to be kept and heard."""
        return self._microphone.samples

    @property
    def heard_s(self) -> float:
        """The moment (s) in the recording that was heard through when that was last looked at."""
        return self._heard_s

    @property
    def stopping(self) -> bool:
        """Whether only what was recorded is still being recognized."""
        return self._stopping.is_set()

    @property
    def at_s(self) -> float:
        """The moment in the recording: seconds (s) since its first sample."""
        return self._microphone.at_s

    def _heard_through(self) -> float:
        """The time heard through: the moment in the recording (s), less what was not heard yet. By
        it goes every timer, so that a machine that lags warns of nothing that is over. It never
        goes back. While hearing begins anew, or is so late that this was said, it stays no further
        behind than that; the dialogue then leaves alone what only time would tell."""
        behind_s, troubles = self._recognition.behind_s, self.dialogue.troubles
        if "ear gone" in troubles:
            behind_s = 0.0
        elif "slow" in troubles:
            behind_s = min(behind_s, SLOW_S)
        self._heard_s = max(self._heard_s, self.at_s - behind_s)
        return self._heard_s

    @property
    def lag_s(self) -> float | None:
        """Seconds of sound not recognized yet; None while the recognizers get ready."""
        return self._recognition.lag_s

    @property
    def level(self) -> BlockLevel | None:
        """The level of the newest block of sound; None before the first."""
        return self._microphone.level

    @property
    def recognizers(self) -> tuple[str, ...]:
        """Who recognizes, with versions; empty while they get ready."""
        return self._recognition.names

    @property
    def events(self) -> Sequence[Event]:
        """All events so far, in order."""
        return self._kept.events

    @property
    def notes(self) -> int:
        """How many utterances were taken for notes."""
        verdicts = (event for event in self.events if isinstance(event, Verdict))
        return sum(verdict.status != "rejected" for verdict in verdicts)

    @property
    def disk_refuses(self) -> bool:
        """Whether the disk took not all: sound or notes are in memory only."""
        return self._kept.trouble is not None or self._kept.waiting > 0

    @property
    def unsaved_s(self) -> float:
        """Seconds of sound that are in memory only."""
        return self._kept.unsaved_s

    def run(self) -> bool:
        """Listen until stopped; whether all of it was kept.

        Where not (a disk that stayed full, recognition that died, a rest that was left), what
        was committed and the sound stay, and `resume` completes it.

        Raises:
            VoicelogError: the microphone cannot be opened, or nothing can be kept (nothing was
                begun then), or the recognizers cannot be made.
            Exception: what ended the thread that takes the sound, as it was.
        """
        self._kept.open(self._started_at)
        self._recognition.start()
        try:
            self._microphone.open()
            self._kept.begin(self.recording)
            self._microphone.start()  # no sound without a recording that it belongs to
            if self.setup.earpiece:
                self._perform((LogFieldEvent("device", EARPIECE),))
            for batch in Intake(self, self.setup.recognition):
                self._commit(batch)
        finally:
            self._microphone.stop()
            self._recognition.close()
            self._kept.close()
            if not self._microphone.samples and not self.events:
                self._kept.discard()
        if not self._kept.all_on_disk() or self._cut_short:
            return False
        if self._microphone.samples:
            self._on_note(STORING)
            self._kept.store()
        return True

    # --- a source, for the intake --------------------------------------------------------

    def heard(self) -> Iterator[RecognizedUtterance]:
        """The utterances as they are recognized; time passes in between."""
        known: set[str] = set()
        while (heard := self._next()) is not None:
            if heard[0].id not in known:  # it comes again from a process begun anew
                known.add(heard[0].id)
                lowered = (
                    heard
                    if self.setup.earpiece
                    else lower_overlapping_verdict(heard, self.feedback.spoken)
                )
                self._over_own_speech = lowered is not heard
                yield lowered

    def facts(self) -> Mapping[str, Any]:
        """Nothing more is known of a recording that is not over."""
        return {}

    @property
    def recording(self) -> Recording:
        """What is known of the recording by now."""
        return self.setup.recognition.recording(
            self.id,
            file_name=f"live {self._started_at:%Y-%m-%d %H:%M}",
            started_at=self._started_at,
            duration_s=self._microphone.samples / RATE,
            listeners=self.recognizers,
        )

    # --- the flow ------------------------------------------------------------------------

    def _next(self) -> RecognizedUtterance | None:
        """The next utterance; None when all was recognized, or the rest is left."""
        ending = False
        while True:
            if self._stopping.is_set() and not ending:
                ending = True
                self._keep_unheard(self._microphone.unheard_s(self.setup.clock.seconds()))
                self._microphone.stop()
                self._recognition.finish()
            message = self._message()
            if isinstance(message, UtteranceRecognized):
                return message.utterance
            if isinstance(message, AllRecognized):
                return None
            if message is not None:
                self._receive(message)
            if not ending:
                self._tick()
                continue
            self._on_change(self)
            stuck = self._recognition.stuck_s(self.setup.clock.seconds(), ending=True) is not None
            if stuck or self._recognition.given_up or self._leaving.is_set():
                self._cut_short = True
                return None

    def _message(self) -> RecognitionMessage | MicrophoneMessage | None:
        """The next message; None where none came in time for the next tick."""
        try:
            return self._messages.get(timeout=self._tick_s)
        except queue.Empty:
            return None

    def _receive(self, message: RecognitionMessage | MicrophoneMessage) -> None:
        """What a message means for the session; utterances and the end are taken by `_next`."""
        match message:
            case RecognizersReady(names, heard):
                self._recognition.ready(names)
                self._equipment.recognizers_ready(heard)
                with suppress(LogError):  # a full disk; who listens is in every reading too
                    self._kept.begin(self.recording)
                self._on_note(f"Listening with {', '.join(names)}.")
            case SpeechChanged(speaking):
                self.dialogue.speech_changed(speaking)
            case UtteranceUndecided(utterance):
                self._warn_ahead(utterance)
            case CarefulStopped(reason):
                self._on_note(reason)
                self._perform(self.dialogue.device("careful gone", reason))
            case RecognitionDied():
                self._begin_hearing_anew(self._recognition.restart)
            case RecognitionFailed(reason):
                raise VoicelogError(reason)
            case MicrophoneChanged(state, missed_s):
                self._perform(self.dialogue.device(state, missed_s=missed_s))
            case MicrophoneReopened(handle):
                self._microphone.reopened(handle)
            case CaptureFailed(error):
                raise error
            case RecognitionProgress() | UtteranceRecognized() | AllRecognized():
                pass
            case _:
                assert_never(message)

    def _commit(self, batch: Sequence[Event]) -> None:
        """Keep an utterance, then let her hear that it was kept."""
        on_disk = self._kept.commit(batch)
        derivation = self._derived()
        outputs = self.dialogue.heard(
            batch[0].id, derivation, self._heard_through(), over_voice=self._over_own_speech
        )
        self._perform(one for one in outputs if on_disk or not isinstance(one, PlayTone))
        self._equipment.check_disk()
        entry = next(entry for entry in reversed(derivation.entries) if entry.id == batch[0].id)
        if entry.status != "rejected":
            self._on_note(f"{status_word(entry.status)}: {entry.reading}")
            voice = self._microphone.note_heard(entry.start_s, entry.end_s)
            if voice is not None:
                self._perform(self.dialogue.device(voice))
        self._on_change(self)

    def _warn_ahead(self, heard: RecognizedUtterance) -> None:
        """Warn of what may be dangerous in an utterance that is not decided; not where it may be
        our own voice."""
        if not self.setup.earpiece and is_over_own_speech(heard, self.feedback.spoken):
            return
        utterance, readings, verdict = heard
        derived = self.setup.derive(self.recording, self.events, (utterance, *readings, verdict))
        self._perform(self.dialogue.undecided(utterance.id, derived, self._heard_through()))

    def _derived(self) -> Derived:
        return self.setup.derive(self.recording, self.events, ())

    # --- what time brings, and what may go wrong -------------------------------------------

    def _tick(self) -> None:
        """Look at devices, disk and clock, and at the dialogue's own timers."""
        now_s = self.setup.clock.seconds()
        if self._equipment.woke():
            self._microphone.woke(now_s)
            self._recognition.woke()
        if (state := self._microphone.tick(now_s)) is not None:
            self._perform(self.dialogue.device(state))
        self._microphone.reopen_when_due(now_s)
        if self._microphone.stuck(now_s):
            self._on_note(MICROPHONE_STUCK)
            self._perform(self.dialogue.device("stuck", MICROPHONE_STUCK))
        if (stuck_s := self._recognition.stuck_s(now_s)) is not None:
            self._on_note(hearing_stuck_words(stuck_s))
            self._begin_hearing_anew(self._recognition.restart_stuck)
        self._equipment.tick(now_s)
        self._perform(self.dialogue.tick(self._heard_through()))
        self._on_change(self)

    def _keep_unheard(self, seconds: float) -> None:
        """The session ends: keep what was missed, where the microphone has not come back."""
        self.unheard_s = seconds
        if round(seconds) >= 1:
            self._perform((LogFieldEvent("device", f"not heard to the end, {seconds:.1f} s"),))

    def _begin_hearing_anew(self, restart: Callable[[], bool]) -> None:
        """The process died or stands still: begin another by `restart`, unless that happened too
        often."""
        begun = restart()
        self._perform(self.dialogue.device("ear gone", "" if begun else HEARING_LOST))
        if begun and self._stopping.is_set():
            self._recognition.finish()
