"""A live recording: devices, threads, the log and the loop, put together.

The flow is that of a recording from disk: utterances come in, each is committed with its
readings and its verdict, and all that follows is derived from what was committed. What is
live here is only when: a tone follows its commit, and time passes between utterances.
"""

from __future__ import annotations

import queue
import secrets
import threading
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from typing import Any, Protocol

from voicelog.app.commit import BufferedCommit
from voicelog.app.derive import Derivation
from voicelog.app.intake import Intake, RecognizedUtterance
from voicelog.app.live_files import finish_live_recording, live_file, live_folder
from voicelog.app.own_speech import EARPIECE, lower_overlapping_verdict
from voicelog.audio.microphone import DEVICE_LOCK, BlockCallbackFor
from voicelog.audio.recorder import Pcm, Recorder, read_pcm
from voicelog.audio.resampling import RATE
from voicelog.live.capture import CaptureThread
from voicelog.live.dialogue import EquipmentState
from voicelog.live.feedback import AudioOutput, FeedbackPlayer
from voicelog.live.live_setup import LiveSetup
from voicelog.live.microphone_monitor import FIRST_S, BlockLevel, MicrophoneMonitor
from voicelog.live.outputs import (
    CancelSpeech,
    CommitAction,
    LogFieldEvent,
    Output,
    PlayTone,
    SpeakWords,
)
from voicelog.live.recognition_process import (
    RecognitionMessage,
    RecognitionProcess,
    RecognitionRequest,
)
from voicelog.live.speech_synthesis import SpeechSynthesizer
from voicelog.model import Event, Verdict, VoicelogError
from voicelog.store import LogError, Recording

__all__ = ["LiveSession", "MicrophoneHandle", "OpenMicrophone"]

SLICE_S = 0.1
"""Seconds between two looks at the clock."""
REOPEN_S = 1.0
"""Seconds between two tries to reach a microphone that went away."""
SLOW_S = 5.0
"""Seconds of sound waiting to be heard from which the machine is called too slow."""
CLOSE_S = 3.0
"""Seconds in which a microphone has to be let go of."""
RETRY_S = 5.0
"""Seconds between two tries to write to a disk that refused."""
CLOCK_S = 2.0
"""A jump of the wall clock from here on (s) is kept as one."""
MAX_RESTARTS = 3
"""How often hearing is begun anew when its process dies."""


class MicrophoneHandle(Protocol):
    """An open microphone."""

    def close(self) -> None:
        """Let go of the device."""


OpenMicrophone = Callable[[BlockCallbackFor, bool], MicrophoneHandle]
"""(taker for its rate; whether to look for devices anew) -> the microphone, or its errors."""


class LiveSession:
    """One live recording, and the source of its utterances for the pipeline.

    `run` it until `stop` is called, from anywhere. `shown` is called a few times a second for
    whoever draws a screen, `noted` with a line for whoever reads a list. `slice_s` is the time
    between two looks at the clock.
    """

    note: str | None = None

    def __init__(
        self,
        post: LiveSetup,
        *,
        microphone: OpenMicrophone,
        mouth: AudioOutput | None,
        voice: SpeechSynthesizer | None,
        ear: Callable[
            [RecognitionRequest, Callable[[RecognitionMessage], None]], RecognitionProcess
        ] = RecognitionProcess,
        shown: Callable[[LiveSession], None] = lambda live: None,
        noted: Callable[[str], None] = lambda words: None,
        slice_s: float = SLICE_S,
    ) -> None:
        self.post = post
        self.id = secrets.token_hex(16)
        self.listeners: tuple[str, ...] = ()
        self.level: BlockLevel | None = None
        self.events: list[Event] = []
        self.speaker = FeedbackPlayer(self.id, mouth, voice)
        self._microphone, self._shown, self._noted = microphone, shown, noted
        self._make_ear, self._slice_s = ear, slice_s
        self._inbox: queue.SimpleQueue[tuple[str, Any]] = queue.SimpleQueue()
        self._stopping, self._leaving = threading.Event(), threading.Event()
        self._cut = False
        self._sound = threading.Lock()
        self._keeper = BufferedCommit(post.log, self.id)
        self._at_s = self._retry_s = self._reopen_s = 0.0
        self._device: MicrophoneHandle | None = None
        self._opening: threading.Thread | None = None
        self._ready = self._slow = self._disk_full = self._over_voice = False
        self._ears = 0

    # --- from outside --------------------------------------------------------------------

    def stop(self) -> None:
        """Take no more sound, hear what there is, and finish; asked twice, leave the rest."""
        if self._stopping.is_set():
            self._leaving.set()
        self._stopping.set()

    @property
    def stopping(self) -> bool:
        """Whether only what was recorded is still being heard."""
        return self._stopping.is_set()

    @property
    def at_s(self) -> float:
        """The moment in the recording (s)."""
        first_s = self._pump.first_s
        if first_s is not None:
            self._at_s = max(self._at_s, self.post.clock.seconds() - first_s)
        return self._at_s

    @property
    def notes(self) -> int:
        """How many utterances were taken for notes."""
        verdicts = (event for event in self.events if isinstance(event, Verdict))
        return sum(verdict.status != "rejected" for verdict in verdicts)

    @property
    def lag_s(self) -> float | None:
        """Seconds of sound not heard through yet; None while the listeners get ready."""
        return self._ear.lag_s if self._ready else None

    def run(self) -> bool:
        """Listen until stopped; whether all of it was kept.

        Where not (a disk that stayed full, hearing that died, a rest that was left), what was
        committed and the sound stay, and `resume` completes it.

        Raises:
            VoicelogError: the microphone cannot be opened, or nothing can be kept; nothing
                was begun then.
        """
        clock, log = self.post.clock, self.post.log
        self._wall_s = clock.wall().timestamp() - clock.seconds()
        self._started_at = clock.wall()
        path = live_file(log, self.id)
        try:
            live_folder(log)
            self._recorder = Recorder(path, self._started_at)
        except OSError as error:
            raise VoicelogError(
                f"Found no way to record into {path.parent} ({error.strerror}), wanted room and "
                "the right to write there; free some space, or choose another --data-dir."
            ) from error
        self._watch = MicrophoneMonitor(clock.seconds())
        self._start_recognition()
        self._pump = CaptureThread(
            passed=self._record_and_recognize,
            level=self._leveled,
            failed=lambda error: self._inbox.put(("crashed", error)),
            clock=clock,
        )
        try:
            self._device = self._microphone(self._pump.take, False)
            self._keeper.begin(self.recording)
            self._pump.start()  # no sound without a recording that it belongs to
            if self.post.earpiece:
                self._do((LogFieldEvent("device", EARPIECE),))
            for batch in Intake(self, self.post.setup):
                self._commit(batch)
        finally:
            self._shut()
            if not self._pump.samples and not self.events:
                path.unlink(missing_ok=True)
        if self._recorder.trouble or not self._keeper.retry() or self._cut:
            return False
        if self._pump.samples:
            self._noted("Putting the sound into the log.")
            finish_live_recording(self._keeper, path)
        return True

    # --- a source, for the pipeline ------------------------------------------------------

    def heard(self) -> Iterator[RecognizedUtterance]:
        """What is heard, as it is heard; time passes in between."""
        known: set[str] = set()
        while (heard := self._next()) is not None:
            if heard[0].id not in known:  # it may come again from a second hearing
                known.add(heard[0].id)
                surer = (
                    heard
                    if self.post.earpiece
                    else lower_overlapping_verdict(heard, self.speaker.spoken)
                )
                self._over_voice = surer is not heard
                yield surer

    def facts(self) -> Mapping[str, Any]:
        """Nothing more is known of a recording that is not over."""
        return {}

    @property
    def recording(self) -> Recording:
        """What is known of the recording by now."""
        return self.post.setup.recording(
            self.id,
            file_name=f"live {self._started_at:%Y-%m-%d %H:%M}",
            started_at=self._started_at,
            duration_s=self._pump.samples / RATE,
            listeners=self.listeners,
        )

    # --- the flow ------------------------------------------------------------------------

    def _next(self) -> RecognizedUtterance | None:
        """The next utterance; None when all was heard."""
        ending = False
        while True:
            if self._stopping.is_set() and not ending:
                ending = True
                self._close_microphone()
                self._pump.stop()
                self._ear.finish()
            try:
                kind, what = self._inbox.get(timeout=self._slice_s)
            except queue.Empty:
                kind, what = "", None
            match kind:
                case "heard":
                    utterance: RecognizedUtterance = what
                    return utterance
                case "ready":
                    self._ready, self.listeners = True, what
                    with suppress(LogError):  # a full disk; who listens is in every reading too
                        self._keeper.begin(self.recording)
                    self._noted(f"Listening with {', '.join(what)}.")
                case "opened":
                    self._device = what
                    if ending:
                        self._close_microphone()
                    self._watch.opened(self.post.clock.seconds())
                    self._reopen_s = self.post.clock.seconds() + FIRST_S - REOPEN_S
                case "talking":
                    self.post.loop.talks(what)
                case "device":
                    self._do(self.post.loop.device(what))
                case "note":
                    self._noted(what)
                    self._do(self.post.loop.device("careful gone", what))
                case "failed":
                    raise VoicelogError(what)
                case "crashed":
                    raise what
                case "gone":
                    self._restart_recognition()
                case _:
                    pass
            if kind == "end":
                return None
            if not ending:
                self._look()
                continue
            self._shown(self)
            if self._ears > MAX_RESTARTS or self._leaving.is_set():
                self._cut = True
                return None

    def _commit(self, batch: Sequence[Event]) -> None:
        """Keep an utterance, then let her hear that it was kept."""
        kept = self._keeper.append(batch)
        self.events += batch
        derivation = self._derived()
        acts = self.post.loop.heard(batch[0].id, derivation, self.at_s, over_voice=self._over_voice)
        self._do(act for act in acts if kept or not isinstance(act, PlayTone))
        self._disk()
        entry = next(entry for entry in derivation.entries if entry.id == batch[0].id)
        if entry.status != "rejected":
            self._noted(f"{'sure' if entry.status == 'accepted' else 'look'}: {entry.reading}")
        self._shown(self)

    def _derived(self) -> Derivation:
        return self.post.derive(self.recording, self.events)

    def _do(self, acts: Iterable[Output]) -> None:
        """Sound it, say it, keep it; what is kept may bring more."""
        events: list[Event] = []
        settled = False
        for act in acts:
            match act:
                case PlayTone():
                    event = self.speaker.play(act, self.at_s)
                    events += [event] if event else []
                case SpeakWords():
                    silent = "earphone gone" in self.post.loop.trouble
                    self._noted(f"{'shown' if silent else 'says'}: {act.words}")
                    events.append(self.speaker.say(act, self.at_s))
                case CancelSpeech():
                    self.speaker.hush(act)
                case LogFieldEvent():
                    events.append(self.speaker.event(act.what, act.detail, self.at_s))
                case CommitAction():
                    events.append(act.action)
                    settled = True
        if events:
            self._keeper.append(events)
            self.events += events
        if settled:
            self._do(self.post.loop.settled(self._derived(), self.at_s))

    # --- sound, on its own thread --------------------------------------------------------

    def _record_and_recognize(self, pcm: Pcm) -> None:
        with self._sound:
            self._recorder.write(pcm)
            self._ear.feed(pcm)

    def _leveled(self, at_s: float, level: BlockLevel) -> None:
        self.level = level
        state = self._watch.block(at_s, level)
        if state is not None:
            self._inbox.put(("device", state))

    # --- what time brings, and what may go wrong -------------------------------------------

    def _look(self) -> None:
        """Devices, the disk, the clock, and the loop's own timers."""
        loop, now_s = self.post.loop, self.post.clock.seconds()
        if (state := self._watch.tick(now_s)) is not None:
            self._do(loop.device(state))
        if self._watch.state == "gone" and now_s - self._reopen_s >= REOPEN_S:
            self._reopen(now_s)
        if now_s - self._retry_s >= RETRY_S:
            self._retry_s = now_s
            self._keeper.retry()
        self._disk()
        self._clock(now_s)
        if self._ready and (self._ear.lag_s > SLOW_S) != self._slow:
            self._slow = not self._slow
            self._ear.spare(self._slow)
            loop.trouble.pop("slow", None)
            self._do(loop.device("slow") if self._slow else ())
        self._earphone()
        self._do(loop.tick(self.at_s))
        self._shown(self)

    def _earphone(self) -> None:
        """Say on the screen that nothing sounds, since no other device may in its place."""
        trouble = self.speaker.mouth.trouble if self.speaker.mouth else None
        if (trouble is not None) == ("earphone gone" in self.post.loop.trouble):
            return
        if trouble is None:
            self._do(self.post.loop.device("earphone back"))
            return
        detail = f"The earphone is silent, and nothing sounds in its place ({trouble})."
        self._noted(detail)
        self._do(self.post.loop.device("earphone gone", detail))

    def _clock(self, now_s: float) -> None:
        """The session goes by samples; that the wall clock was set is only kept."""
        jumped_s = self.post.clock.wall().timestamp() - now_s - self._wall_s
        if abs(jumped_s) >= CLOCK_S:
            self._wall_s += jumped_s
            way = "forward" if jumped_s > 0 else "back"
            detail = f"The clock was set {way} by {abs(jumped_s):.0f} s; the session goes on."
            self._noted(detail)
            self._do(self.post.loop.device("clock", detail))

    def _disk(self) -> None:
        """Say at once that the disk refuses, and when it has taken everything."""
        trouble = self._recorder.trouble or self._keeper.trouble
        if (trouble is not None or self._keeper.waiting > 0) == self._disk_full:
            return
        self._disk_full = not self._disk_full
        state: EquipmentState = "disk full" if self._disk_full else "disk back"
        detail = f"The disk does not take it ({trouble}); free some space, it goes on in memory."
        self._do(self.post.loop.device(state, detail if self._disk_full else ""))

    def _start_recognition(self) -> None:
        self._ready = False
        post = self.post
        order = RecognitionRequest(post.setup.roster, self.id, post.optional, post.listener)
        self._ear = self._make_ear(order, self._inbox.put)

    def _restart_recognition(self) -> None:
        """Hearing died: begin anew from the start of the sound; what is known comes again."""
        self._ears += 1
        self._do(self.post.loop.device("ear gone"))
        if self._ears > MAX_RESTARTS:
            return
        with self._sound:
            self._start_recognition()
            self._ear.feed(read_pcm(live_file(self.post.log, self.id)))
        if self._stopping.is_set():
            self._ear.finish()
        self.post.loop.trouble.pop("ear gone", None)

    def _reopen(self, now_s: float) -> None:
        """Try to reach the microphone again, looking for devices anew.

        In a thread of its own: a sound server that hangs keeps it waiting, not the session.
        """
        if self._opening is not None and self._opening.is_alive():
            return
        self._reopen_s = now_s
        device, self._device = self._device, None
        self._opening = threading.Thread(
            target=self._open_anew, args=(device,), name="microphone", daemon=True
        )
        self._opening.start()

    def _open_anew(self, device: MicrophoneHandle | None) -> None:
        if device is not None:
            device.close()
        try:
            with DEVICE_LOCK:
                if self.speaker.mouth is not None:
                    self.speaker.mouth.release()
                self._inbox.put(("opened", self._microphone(self._pump.take, True)))
        except VoicelogError:
            return  # it is tried again

    def _close_microphone(self) -> None:
        """Let go of it; a server that hangs is not waited for."""
        device, self._device = self._device, None
        if device is not None:
            closing = threading.Thread(target=device.close, name="microphone", daemon=True)
            closing.start()
            closing.join(CLOSE_S)

    def _shut(self) -> None:
        self._close_microphone()
        self._pump.stop()
        self._ear.close()
        self._recorder.close()
