"""The microphone of a live session: opened, watched, opened anew when it went away, closed.

A sound server may hang in any call. So the microphone is opened anew in a thread of its own,
and closing it is waited for only so long: neither holds up the session. Where the old one is never
let go of, no new one is opened beside it, which is not safe: it is said that nothing is heard.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal, Protocol

from voicelog.audio.microphone import DEVICE_LOCK, BlockCallbackFor
from voicelog.audio.recorder import Pcm
from voicelog.audio.resampling import RATE
from voicelog.live.capture import CaptureThread
from voicelog.live.clock import Clock
from voicelog.live.microphone_monitor import (
    FIRST_S,
    BlockLevel,
    MicrophoneMonitor,
    MicrophoneState,
)
from voicelog.live.voice_level import VoiceLevelState, VoiceLevelWatch
from voicelog.model import VoicelogError

__all__ = [
    "CaptureFailed",
    "MicrophoneChanged",
    "MicrophoneHandle",
    "MicrophoneMessage",
    "MicrophoneReopened",
    "MicrophoneSupervisor",
    "OpenMicrophone",
]

REOPEN_S = 1.0
"""Seconds between two tries to reach a microphone that went away."""
CLOSE_S = 3.0
"""Seconds in which a microphone has to be let go of."""
STUCK_S = 10.0
"""Seconds after which a try to open it anew is called stuck."""


class MicrophoneHandle(Protocol):
    """An open microphone."""

    def close(self) -> None:
        """Let go of the device."""


OpenMicrophone = Callable[[BlockCallbackFor, bool], MicrophoneHandle]
"""(what takes its blocks, by its rate; whether to look for devices anew) -> the microphone.

Raises VoicelogError where it cannot be opened."""


@dataclass(frozen=True, slots=True)
class MicrophoneChanged:
    """Its sound is silent, overloaded, of another rate or with other channels ("changed"), or fine
    again, after so long (s) in which nothing was heard."""

    state: MicrophoneState | Literal["changed"]
    missed_s: float = 0.0


@dataclass(frozen=True, slots=True)
class MicrophoneReopened:
    """A microphone that went away is there again; to be passed on to `reopened`."""

    handle: MicrophoneHandle


@dataclass(frozen=True, slots=True)
class CaptureFailed:
    """The thread that takes the sound ended with an error."""

    error: Exception


MicrophoneMessage = MicrophoneChanged | MicrophoneReopened | CaptureFailed


class MicrophoneSupervisor:
    """`on_samples` gets every sample in order, from the capture thread.

    `on_message` is called from that thread and from the one that opens the microphone anew;
    `release_output` before that, since devices can be looked for only while none is in use. All
    methods are for the session's own thread.
    """

    def __init__(
        self,
        open_microphone: OpenMicrophone,
        *,
        on_samples: Callable[[Pcm], None],
        on_message: Callable[[MicrophoneMessage], None],
        release_output: Callable[[], None],
        clock: Clock,
    ) -> None:
        self.level: BlockLevel | None = None
        self._open_microphone, self._release_output = open_microphone, release_output
        self._on_message, self._clock = on_message, clock
        self._monitor = MicrophoneMonitor(clock.seconds())
        self._capture = CaptureThread(
            on_samples=on_samples,
            on_level=self._watch_level,
            on_change=lambda: on_message(MicrophoneChanged("changed")),
            on_error=lambda error: on_message(CaptureFailed(error)),
            clock=clock,
        )
        self._voice = VoiceLevelWatch()
        self._voice_lock = threading.Lock()
        self._handle: MicrophoneHandle | None = None
        self._opening: threading.Thread | None = None
        self._opening_s = 0.0
        self._reached = False
        self._stopped = False
        self._stuck = False

    @property
    def samples(self) -> int:
        """Samples (at RATE) that were passed on."""
        return self._capture.samples

    @property
    def at_s(self) -> float:
        """The moment in the recording: seconds (s) since its first sample, 0 before that."""
        first_s = self._capture.first_s
        return 0.0 if first_s is None else max(0.0, self._clock.seconds() - first_s)

    @property
    def reopening(self) -> bool:
        """Whether a try to open it anew is under way, or it was reached and not taken yet."""
        return self._reached or (self._opening is not None and self._opening.is_alive())

    def open(self) -> None:
        """Open it; its sound waits until `start`. Raises VoicelogError where it cannot."""
        self._monitor.opened(self._clock.seconds())
        self._handle = self._open_microphone(self._capture.block_callback, False)

    def start(self) -> None:
        """Begin to pass sound on."""
        self._capture.start()

    def tick(self, now_s: float) -> MicrophoneState | None:
        """Time has passed (s on the clock): "gone" when it has just been found to be."""
        return self._monitor.tick(now_s)

    def note_heard(self, start_s: float, end_s: float) -> VoiceLevelState | None:
        """A note was heard from `start_s` to `end_s` (s in the recording): whether her voice has
        become fainter or louder by it, or is as before."""
        with self._voice_lock:
            return self._voice.note(start_s, end_s)

    def woke(self, now_s: float) -> None:
        """The machine slept until now (s on the clock): the microphone may take its time again."""
        self._monitor.opened(now_s)

    def reopen_when_due(self, now_s: float) -> None:
        """Where it is gone, try to reach it again; `MicrophoneReopened` follows a success."""
        due = self._monitor.state == "gone" and now_s - self._opening_s >= REOPEN_S
        if not due or self.reopening:
            return
        self._opening_s = now_s
        self._stuck = False
        gone, self._handle = self._handle, None
        self._opening = threading.Thread(
            target=self._reopen, args=(gone,), name="microphone", daemon=True
        )
        self._opening.start()

    def stuck(self, now_s: float) -> bool:
        """Whether the try that is under way has just been found to be stuck at `now_s` (s on the
        clock): told once. Should it come back all the same, `MicrophoneReopened` follows."""
        alive = self._opening is not None and self._opening.is_alive()
        if not alive or self._stuck or now_s - self._opening_s < STUCK_S:
            return False
        self._stuck = True
        return True

    def unheard_s(self, now_s: float) -> float:
        """For how long (s) nothing has been heard at `now_s` (s on the clock); 0 while there is
        sound."""
        return self._monitor.unheard_s(now_s)

    def reopened(self, handle: MicrophoneHandle) -> None:
        """Take what was opened anew; once all is stopped it is only closed."""
        self._handle, self._reached = handle, False
        if self._stopped:
            self._close()
        self._monitor.opened(self._clock.seconds())
        self._opening_s = self._clock.seconds() + FIRST_S - REOPEN_S

    def stop(self) -> None:
        """Let go of it, and wait until all its sound was passed on; may be called again."""
        self._stopped = True
        self._close()
        self._capture.stop()

    def _watch_level(self, at_s: float, level: BlockLevel) -> None:
        self.level = level
        with self._voice_lock:
            self._voice.block(self._capture.samples / RATE, level.peak)
        state = self._monitor.block(at_s, level)
        if state is not None:
            missed_s = self._monitor.missed_s if state == "back" else 0.0
            self._on_message(MicrophoneChanged(state, missed_s))

    def _reopen(self, gone: MicrophoneHandle | None) -> None:
        if gone is not None:
            gone.close()
        try:
            with DEVICE_LOCK:
                self._release_output()
                handle = self._open_microphone(self._capture.block_callback, True)
                self._reached = (
                    True  # else a second one would be opened beside it until it is taken
                )
                self._on_message(MicrophoneReopened(handle))
        except VoicelogError:
            return  # it is tried again

    def _close(self) -> None:
        """Let go of it; a server that hangs is not waited for."""
        handle, self._handle = self._handle, None
        if handle is not None:
            closing = threading.Thread(target=handle.close, name="microphone", daemon=True)
            closing.start()
            closing.join(CLOSE_S)
