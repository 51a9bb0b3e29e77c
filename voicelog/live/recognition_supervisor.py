"""Keeps a recognition process running beside a live session.

Sound is kept first and recognized second. A process that dies is begun anew and is given all
the sound that was kept so far, so nothing is lost; what was recognized before comes again, and
the session passes over it. One that stands still is killed, and is then one that died.
"""

from __future__ import annotations

import threading
from collections.abc import Callable

from voicelog.audio.recorder import Pcm
from voicelog.live.kept_recording import KeptRecording
from voicelog.live.recognition_messages import RecognitionMessage
from voicelog.live.recognition_process import RecognitionProcess, RecognitionRequest

__all__ = ["SLOW_S", "RecognitionSupervisor", "StartRecognition"]

MAX_RESTARTS = 3
"""How often a process that died is begun anew."""
SLOW_S = 5.0
"""Seconds of sound waiting to be recognized from which the machine is called too slow."""
STUCK_S = 60.0
"""Seconds without a message, while sound waits, after which the process is given up: longer than
any machine took for one utterance, since beginning anew means to hear all of the session again."""
READY_S = 180.0
"""The same for a process that gets ready."""

StartRecognition = Callable[
    [RecognitionRequest, Callable[[RecognitionMessage], None]], RecognitionProcess
]
"""(what is to be recognized; called with each message, from another thread) -> the process."""


class RecognitionSupervisor:
    """`on_message` is called with what the process sends, from another thread.

    `take` comes from the capture thread, all else from the session's own.
    """

    def __init__(
        self,
        request: RecognitionRequest,
        kept: KeptRecording,
        *,
        start_recognition: StartRecognition,
        on_message: Callable[[RecognitionMessage], None],
    ) -> None:
        self.names: tuple[str, ...] = ()
        self._request, self._kept = request, kept
        self._start_recognition, self._on_message = start_recognition, on_message
        self._process: RecognitionProcess | None = None
        self._ready = False
        self._deaths = 0
        self._at_start_s = 0.0
        self._sound_order = threading.Lock()
        self._generation = 0
        self._moved = True
        self._still_since_s = 0.0

    @property
    def behind_s(self) -> float:
        """Seconds of sound that came and were not heard through yet, while the recognizers get
        ready too."""
        return self._process.lag_s if self._process is not None else 0.0

    @property
    def lag_s(self) -> float | None:
        """Seconds of sound not recognized yet; None while the recognizers get ready."""
        return self._process.lag_s if self._process is not None and self._ready else None

    @property
    def pid(self) -> int | None:
        """The process's id; None before the start."""
        return self._process.pid if self._process is not None else None

    @property
    def slow(self) -> bool | None:
        """Whether the machine cannot follow the sound; None while that cannot be known. What came
        while the recognizers got ready is no lag, unless it grows."""
        lag_s = self.lag_s
        if lag_s is None:
            return None
        if lag_s <= SLOW_S:
            self._at_start_s = 0.0
        return lag_s > SLOW_S + self._at_start_s

    @property
    def given_up(self) -> bool:
        """Whether it died too often to be begun anew."""
        return self._deaths > MAX_RESTARTS

    def start(self) -> None:
        """Begin a process; its `RecognizersReady` has to be passed on to `ready`."""
        self._ready, self._moved = False, True
        self._generation += 1
        generation = self._generation

        def pass_on(message: RecognitionMessage) -> None:
            if generation == self._generation:  # else it is one that was given up
                self._moved = True
                self._on_message(message)

        self._process = self._start_recognition(self._request, pass_on)

    def ready(self, names: tuple[str, ...]) -> None:
        """The recognizers of the process are loaded."""
        self._ready, self.names = True, names
        self._at_start_s = self.behind_s

    def take(self, pcm: Pcm) -> None:
        """Keep the next samples (int16, mono, at RATE), then recognize them; never raises."""
        with self._sound_order:
            self._kept.write(pcm)
            if self._process is not None:
                self._process.feed(pcm)

    def restart(self) -> bool:
        """Begin anew from the start of the sound; whether that was still worth a try."""
        self._deaths += 1
        if self.given_up:
            return False
        with self._sound_order:
            self.start()
            if self._process is not None:
                self._process.feed(self._kept.sound())
        return True

    def stuck_s(self, now_s: float, *, ending: bool = False) -> float | None:
        """How long (s) the process has stood still at `now_s` (s on the clock), where that is too
        long; None else. Call it at each tick. When all is `ending`, what waits is the end."""
        lag_s = self.lag_s
        idle = lag_s is not None and lag_s <= SLOW_S and not ending
        if self._moved or idle:
            self._moved, self._still_since_s = False, now_s
        still_s = now_s - self._still_since_s
        return still_s if still_s >= (READY_S if lag_s is None else STUCK_S) else None

    def woke(self) -> None:
        """The machine slept: that was no standing still."""
        self._moved = True

    def restart_stuck(self) -> bool:
        """End the process that stands still, and begin anew; whether that was worth a try."""
        self._generation += 1  # its end is no news
        if self._process is not None:
            self._process.kill()
        return self.restart()

    def skip_careful(self, skip: bool) -> None:
        """Recognize what follows with the quick recognizer alone, or with both again."""
        if self._process is not None:
            self._process.skip_careful(skip)

    def finish(self) -> None:
        """No more sound comes; `AllRecognized` follows what was said last."""
        if self._process is not None:
            self._process.finish()

    def close(self) -> None:
        """End the process, done or not."""
        if self._process is not None:
            self._process.close()
