"""A live session on stage: a microphone, recognition and a clock worked by hand, a real log."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np

from tests.live.fields import ROSTER
from voicelog.audio.recorder import Pcm
from voicelog.audio.resampling import RATE, Samples
from voicelog.live.live_session import LiveSession
from voicelog.live.live_setup import ListenOptions, LiveSetup, make_live_setup
from voicelog.live.outputs import PlayTone, SpeakWords
from voicelog.live.recognition_messages import (
    AllRecognized,
    RecognitionDied,
    RecognitionMessage,
    RecognitionProgress,
    RecognizersReady,
    UtteranceRecognized,
)
from voicelog.live.recognition_process import RecognitionRequest
from voicelog.live.speech_synthesis import SpeechSynthesizer
from voicelog.model import Reading, Status, Utterance, Verdict, VoicelogError
from voicelog.safety.settings import Settings
from voicelog.store import Log

__all__ = ["HandClock", "Mouth", "Script", "Stage", "beep"]

STARTED = datetime(2026, 4, 18, 7, 30, tzinfo=UTC)


class HandClock:
    """A clock that a test sets; `set_by_s` is what somebody did to the wall clock."""

    def __init__(self) -> None:
        self.now_s = 1000.0
        self.set_by_s = self.slept = 0.0

    def slept_s(self) -> float:
        return self.slept

    def seconds(self) -> float:
        return self.now_s

    def wall(self) -> datetime:
        return STARTED + timedelta(seconds=self.now_s - 1000.0 + self.set_by_s)


@dataclass
class Mouth:
    """Writes down what sounds."""

    sounded: list[str] = field(default_factory=list)
    released: int = 0
    keys: list[PlayTone | SpeakWords] = field(default_factory=list)
    cancelled: list[Callable[[object], bool]] = field(default_factory=list)
    trouble: str | None = None

    def play(self, sound: Samples, key: object = None) -> None:
        assert isinstance(key, PlayTone | SpeakWords)
        self.keys.append(key)
        self.sounded.append(key.tone if isinstance(key, PlayTone) else key.words)

    def keys_of(self, words: str) -> list[PlayTone | SpeakWords]:
        """What was to sound with these words."""
        return [key for key in self.keys if isinstance(key, SpeakWords) and key.words == words]

    def cancel(self, over: Callable[[object], bool]) -> None:
        self.cancelled.append(over)

    def release(self) -> None:
        self.released += 1


def beep(words: str) -> tuple[Samples, int]:
    """A voice for tests: a quarter of a second a word."""
    return np.full(len(words.split()) * RATE // 4, 0.5, np.float32), RATE


PaperLine = tuple[float, str] | tuple[float, str, Status]
"""(end of the utterance in s, its words, how sure): it began 1 s before."""


class Script:
    """Starts recognition of what stands in a script, once enough sound was fed."""

    def __init__(self, lines: Sequence[PaperLine], *, dies_at_s: float | None = None) -> None:
        self.lines, self.dies_at_s = lines, dies_at_s
        self.made = 0
        self.skipped: list[bool] = []
        self.lag_s = 0.0
        self.hangs = False
        self.stands_from_s: float | None = None
        self.killed = 0

    def __call__(
        self, request: RecognitionRequest, on_message: Callable[[RecognitionMessage], None]
    ) -> Any:
        self.made += 1
        on_message(RecognizersReady(("script 1",), ("script 1",)))
        return _ScriptedRecognition(self, request, on_message)


class _ScriptedRecognition:
    @property
    def lag_s(self) -> float:
        if self.stood_s is not None:
            return self.fed / RATE - self.stood_s
        return self.script.lag_s

    def __init__(
        self,
        script: Script,
        request: RecognitionRequest,
        on_message: Callable[[RecognitionMessage], None],
    ) -> None:
        self.script, self.request, self.on_message = script, request, on_message
        self.fed, self.heard, self.dead = 0, 0, False
        self.stood_s: float | None = None

    def feed(self, sound: Pcm) -> None:
        self.fed += len(sound)
        if self.dead:
            return
        if self.script.dies_at_s is not None and self.fed >= self.script.dies_at_s * RATE:
            self.script.dies_at_s, self.dead = None, True
            self.on_message(RecognitionDied())
            return
        stands_s = self.script.stands_from_s
        if stands_s is not None and self.fed >= stands_s * RATE:
            self.stood_s = stands_s
        if self.stood_s is None:
            self.on_message(RecognitionProgress(self.fed / RATE))
            self._through(self.fed / RATE - 0.5)

    def kill(self) -> None:
        """Ended by its parent: it hears nothing more, and what it sends is of no interest."""
        self.script.killed += 1
        self.script.stands_from_s, self.dead = None, True
        self.on_message(RecognitionDied())

    def skip_careful(self, skip: bool) -> None:
        self.script.skipped.append(skip)

    def finish(self) -> None:
        if not self.dead and not self.script.hangs:
            self._through(float("inf"))
            self.on_message(AllRecognized())

    def finish_at(self, seconds: float) -> None:
        """As `finish`, for sound that ends here: what would be said later is not heard."""
        self._through(seconds)

    def close(self) -> None:
        pass

    def _through(self, seconds: float) -> None:
        while self.heard < len(self.script.lines):
            end_s, words, *sure = self.script.lines[self.heard]
            if end_s > seconds:
                return
            self.heard += 1
            status: Status = sure[0] if sure else "accepted"
            name = f"u-{self.request.recording[:12]}-{round(end_s * RATE):09d}"
            self.on_message(
                UtteranceRecognized(
                    (
                        Utterance(
                            id=name,
                            recording=self.request.recording,
                            start_s=end_s - 1.0,
                            end_s=end_s,
                        ),
                        (
                            Reading(
                                id=f"{name}.r",
                                utterance=name,
                                words=words,
                                by="listener",
                                who="script 1",
                            ),
                        ),
                        Verdict(
                            id=f"{name}.v",
                            utterance=name,
                            status=status,
                            words=words,
                            confidence=0.9,
                            judge="script 1",
                        ),
                    ),
                )
            )


class Stage:
    """Runs one live session in steps of a tenth of a second, in lockstep: the clock goes on when
    the session has heard, kept and answered all that the step brought, however long that takes.

    `at` maps a step to what somebody does then; `plugged(step)` says whether the microphone
    brings sound; `reached` is called when it is looked for anew, `closed` when it is let go of, and
    they may wait, for as long as they like where `hangs` is set.
    """

    def __init__(
        self,
        folder: Path,
        script: Script,
        *,
        seconds: float,
        wanted: ListenOptions | None = None,
        sound: Samples | None = None,
    ) -> None:
        self.log = Log.open(folder, now=lambda: self.clock.wall())
        self.clock = HandClock()
        self.mouth = Mouth()
        self.notes: list[str] = []
        self.opened = 0
        self.hangs = False
        self.plugged: Callable[[int], bool] = lambda step: True
        self.reached: Callable[[], object] = lambda: None
        self.closed: Callable[[], object] = lambda: None
        self.at: dict[int, Callable[[], None]] = {}
        self._steps = round(seconds * 10)
        rng = np.random.default_rng(1)
        hiss = (1e-3 * rng.standard_normal(self._steps * RATE // 10)).astype(np.float32)
        self._sound = hiss if sound is None else sound
        self._step = self._looks = 0
        self._looked, self._over = threading.Condition(), False
        wanted = wanted or ListenOptions(ROSTER, Settings())
        self.setup: LiveSetup = make_live_setup(self.log, wanted, self.clock)
        self.live = LiveSession(
            self.setup,
            microphone=self._open,
            audio_output=self.mouth,
            voice=SpeechSynthesizer("beep", beep),
            start_recognition=script,
            on_note=self.notes.append,
            tick_s=0.001,
        )
        self._tick, self.live._tick = self.live._tick, self._counted  # type: ignore[method-assign]

    def run(self) -> bool:
        """Play it to its end; whether all of it was kept."""
        try:
            return self.live.run()
        finally:
            with self._looked:
                self._over = True
                self._looked.notify_all()

    def _open(self, taker_for: Any, anew: bool) -> Any:
        self.opened += 1
        if anew:
            self.reached()
        if not self.plugged(self._step):
            raise VoicelogError("not there")
        if self.opened == 1:
            threading.Thread(target=self._play, args=(taker_for,), daemon=True).start()
        return self

    def close(self) -> None:
        """As a microphone is closed."""
        self.closed()

    def _play(self, taker_for: Any) -> None:
        take = taker_for(RATE)
        block = RATE // 10
        for step in range(self._steps):
            self._step = step
            self.at.get(self._step, lambda: None)()
            self.clock.now_s += 0.1
            level = self.live.level
            brought = self.plugged(self._step)
            if brought:
                take(self._sound[self._step * block : (self._step + 1) * block, None], False)
            self._settle(lambda: not brought or self.live.level is not level)  # noqa: B023
        self.live.stop()

    def _counted(self) -> None:
        self._tick()
        with self._looked:
            self._looks += 1
            self._looked.notify_all()

    def _settle(self, heard: Callable[[], bool]) -> None:
        """Until the step's sound was heard, and a look begun after that found nothing to do; a
        session that stops of itself looks no more."""

        def wait(done: Callable[[], bool]) -> bool:
            for _ in range(60):
                if self._looked.wait_for(lambda: self._over or done(), timeout=1.0):
                    return True
                if self.live.stopping:
                    return False
            raise AssertionError("the session stands still")

        with self._looked:
            if not wait(heard) or not wait(
                lambda: self.hangs or not self.live._microphone.reopening
            ):
                return
            while not self._over:
                looks, quiet = self._looks, self.live._messages.empty()
                if not wait(lambda: self._looks >= looks + 2):  # noqa: B023
                    return
                if quiet and self.live._messages.empty():
                    return


def statuses(events: Iterable[Any]) -> list[tuple[str, str]]:
    """Words and status of each verdict among events."""
    return [(e.words, e.status) for e in events if isinstance(e, Verdict)]
