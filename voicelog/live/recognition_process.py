"""Recognition in a process of its own, fed as the sound comes.

A decoder holds Python's lock for a tenth of a second at a time; in the process that serves
the microphone that would cost samples and delay every tone. Sound goes over in a pipe,
through a thread, so that whoever feeds it never waits; messages come back the same way. When
the parent dies the pipe closes, and the child with it.
"""

from __future__ import annotations

import hashlib
import queue
import signal
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from multiprocessing import get_context
from multiprocessing.connection import Connection

import numpy as np

from voicelog.app.hearing_test import heard_test
from voicelog.app.intake import RecognizedUtterance
from voicelog.app.recognizers import load_recognizers
from voicelog.audio.recorder import Pcm, as_float
from voicelog.audio.resampling import RATE, Samples
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
from voicelog.model import Roster, VoicelogError
from voicelog.recognition.recognize import Recognizers
from voicelog.recognition.recognizers import RecognizerChoice

__all__ = ["RecognitionProcess", "RecognitionRequest"]

_QUICK_ONLY, _BOTH = b"s", b"S"
"""Instead of samples, which are never one byte: recognize with the quick recognizer alone, or again
with both."""
QUICK_ONLY_VERSION = "quick alone 1"
"""Added to the judge of what both recognizers should have recognized and only the quick one did."""

_PROGRESS = RATE // 5
"""Samples between two messages about progress: so finely goes the time heard through."""


@dataclass(frozen=True, slots=True)
class RecognitionRequest:
    """What the child needs: who may be named, which opt-in grammars, the recording's id.

    `listener` chooses the passes; None for both where both are there.
    """

    roster: Roster
    recording: str
    optional: tuple[str, ...] = ()
    listener: RecognizerChoice | None = None


class RecognitionProcess:
    """The parent's end; `close` it, or the program does not end.

    `on_message` is called with each message, from a thread of its own. Methods may be called
    from any thread, but sound has to be fed from one at a time. The child may have children.
    """

    def __init__(
        self, request: RecognitionRequest, on_message: Callable[[RecognitionMessage], None]
    ) -> None:
        self._on_message = on_message
        self._fed = 0
        self._through_s = 0.0
        self._sound: queue.SimpleQueue[bytes] = queue.SimpleQueue()
        context = get_context("spawn")
        theirs, self._out = context.Pipe(duplex=False)
        self._in, theirs_back = context.Pipe(duplex=False)
        self._process = context.Process(
            target=_work, args=(request, theirs, theirs_back), name="voicelog recognition"
        )
        self._process.start()
        theirs.close()
        theirs_back.close()
        for task in (self._send, self._receive):
            threading.Thread(target=task, daemon=True).start()

    @property
    def lag_s(self) -> float:
        """Seconds of sound that were fed and not recognized yet."""
        return max(0.0, self._fed / RATE - self._through_s)

    @property
    def pid(self) -> int | None:
        """The child's process id."""
        return self._process.pid

    def feed(self, sound: Pcm) -> None:
        """Hand over the next samples (int16, mono, at RATE); never waits."""
        if len(sound):
            self._fed += len(sound)
            self._sound.put(sound.tobytes())

    def skip_careful(self, skip: bool) -> None:
        """Recognize what follows with the quick recognizer alone, doubtful at best, or with
        both."""
        self._sound.put(_QUICK_ONLY if skip else _BOTH)

    def finish(self) -> None:
        """No more sound comes; what was said last follows, then `AllRecognized`."""
        self._sound.put(b"")

    def close(self) -> None:
        """End the child, done or not; waits for it up to 5 s, and then no more asks it."""
        self._process.terminate()
        self._process.join(timeout=5.0)
        if self._process.is_alive():
            self._process.kill()

    def kill(self) -> None:
        """End a child that stands still; never waits."""
        self._process.kill()

    def _send(self) -> None:
        try:
            while data := self._sound.get():
                self._out.send_bytes(data)
            self._out.send_bytes(b"")
        except OSError:
            return  # the receiving thread says that the child is gone

    def _receive(self) -> None:
        ended = False
        try:
            while True:
                message: RecognitionMessage = self._in.recv()
                if isinstance(message, RecognitionProgress):
                    self._through_s = message.through_s
                ended |= isinstance(message, AllRecognized | RecognitionFailed)
                self._on_message(message)
        except (EOFError, OSError):
            if not ended:
                self._on_message(RecognitionDied())


def _work(request: RecognitionRequest, sound: Connection, pipe: Connection) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C ends the parent, which ends us

    def send(message: RecognitionMessage) -> None:
        pipe.send(message)

    try:
        loaded = load_recognizers(request.roster, request.optional, request.listener)
        under_load = _RecognizersUnderLoad(loaded.recognizers, send)
        send(RecognizersReady(under_load.recognizers.names, heard_test(loaded)))
        for heard in loaded.recognize(
            _blocks(sound, send, under_load),
            request.recording,
            talking=lambda speaking: send(SpeechChanged(speaking)),
            at_leisure=lambda: not sound.poll(),
            undecided=lambda heard: send(UtteranceUndecided(under_load.lower_verdict(heard))),
        ):
            send(UtteranceRecognized(under_load.lower_verdict(heard)))
        send(AllRecognized())
    except VoicelogError as error:
        send(RecognitionFailed(str(error)))
    except (EOFError, OSError):
        return  # the parent is gone


class _RecognizersUnderLoad:
    """The recognizers, without the careful recognizer while the machine cannot follow."""

    def __init__(
        self, recognizers: Recognizers, send: Callable[[RecognitionMessage], None]
    ) -> None:
        self.recognizers = recognizers
        self._careful, self._send = recognizers.careful, send
        self._stop_sent = False

    def skip_careful(self, skip: bool) -> None:
        if self.recognizers.quick is not None and self.recognizers.note is None:
            self.recognizers.careful = None if skip else self._careful

    def lower_verdict(self, heard: RecognizedUtterance) -> RecognizedUtterance:
        """What only the quick recognizer recognized where both should have is doubtful at best.

        The readings tell who did: by now, the careful recognizer may be back.
        """
        if self.recognizers.note is not None and not self._stop_sent:
            self._stop_sent = True
            self._send(CarefulStopped(self.recognizers.note))
        utterance, readings, verdict = heard
        alone = self._careful is not None and all(
            reading.who != self._careful.name for reading in readings
        )
        if not alone or verdict.status != "accepted":
            return heard
        digest = hashlib.sha256(f"{verdict.id} {QUICK_ONLY_VERSION}".encode()).hexdigest()
        update = {
            "id": f"v-{digest[:16]}",
            "status": "doubtful",
            "judge": f"{verdict.judge}, {QUICK_ONLY_VERSION}",
        }
        return utterance, readings, verdict.model_copy(update=update)


def _blocks(
    sound: Connection,
    send: Callable[[RecognitionMessage], None],
    under_load: _RecognizersUnderLoad,
) -> Iterator[Samples]:
    """The sound that the parent sends (float32, mono, at RATE), as long as some comes."""
    samples = reported = 0
    while data := sound.recv_bytes():
        if len(data) == 1:
            under_load.skip_careful(data == _QUICK_ONLY)
            continue
        yield as_float(np.frombuffer(data, np.int16))
        samples += len(data) // 2
        if samples - reported >= _PROGRESS:
            reported = samples
            send(RecognitionProgress(samples / RATE))
