"""Hearing in a process of its own, fed as the sound comes.

A decoder holds Python's lock for a tenth of a second at a time; in the process that serves
the microphone that would cost samples and delay every tone. Sound goes over in a pipe,
through a thread, so that whoever feeds it never waits; what was heard comes back the same
way. When the parent dies the pipe closes, and the child with it.
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
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from voicelog.app.pipeline import RecognizedUtterance
from voicelog.audio.recorder import Pcm, as_float
from voicelog.audio.resampling import RATE, Samples
from voicelog.model import Roster, VoicelogError

if TYPE_CHECKING:
    from voicelog.recognition.recognize import Recognizers
    from voicelog.recognition.recognizers import PassChoice

__all__ = ["RecognitionMessage", "RecognitionProcess", "RecognitionRequest"]

RecognitionMessage = tuple[
    Literal["ready", "heard", "talking", "fed", "note", "end", "gone", "failed"], Any
]
"""What comes back: the listeners' names; an utterance; whether somebody speaks; seconds heard
through; a sentence of a listener that stopped; all was heard; the process died; it could not
begin (an error's sentence)."""

_FIRST_PASS_ONLY, _BOTH_PASSES = b"s", b"S"
"""Instead of samples, which are never one byte: hear with the quick listener alone, or again
with both."""
FIRST_PASS_ONLY_VERSION = "quick alone 1"
"""Judge of what both should have heard and only the quick listener did."""

_PROGRESS = RATE
"""Samples between two messages about progress."""


@dataclass(frozen=True, slots=True)
class RecognitionRequest:
    """What the child needs to hear: who may be named, which opt-in grammars, which recording."""

    roster: Roster
    recording: str
    optional: tuple[str, ...] = ()
    listener: PassChoice | None = None


class RecognitionProcess:
    """The parent's end; `close` it, or the program does not end. `told` is called with each
    message, from another thread. The child may have children of its own."""

    def __init__(
        self, order: RecognitionRequest, told: Callable[[RecognitionMessage], None]
    ) -> None:
        self._told = told
        self._fed = 0
        self._through_s = 0.0
        self._sound: queue.SimpleQueue[bytes] = queue.SimpleQueue()
        context = get_context("spawn")
        theirs, self._out = context.Pipe(duplex=False)
        self._in, theirs_back = context.Pipe(duplex=False)
        self._process = context.Process(
            target=_work, args=(order, theirs, theirs_back), name="voicelog ear"
        )
        self._process.start()
        theirs.close()
        theirs_back.close()
        for task in (self._send, self._receive):
            threading.Thread(target=task, daemon=True).start()

    @property
    def lag_s(self) -> float:
        """Seconds of sound that were fed and not heard through yet."""
        return max(0.0, self._fed / RATE - self._through_s)

    @property
    def pid(self) -> int | None:
        """The child's process id."""
        return self._process.pid

    def feed(self, sound: Pcm) -> None:
        """Hand over the next samples; never waits."""
        if len(sound):
            self._fed += len(sound)
            self._sound.put(sound.tobytes())

    def spare(self, now: bool) -> None:
        """Hear what follows with the quick listener alone, doubtful at best; or with both again."""
        self._sound.put(_FIRST_PASS_ONLY if now else _BOTH_PASSES)

    def finish(self) -> None:
        """No more sound comes; what was said last follows, then "end"."""
        self._sound.put(b"")

    def close(self) -> None:
        """End the child, heard out or not."""
        self._process.terminate()
        self._process.join(timeout=5.0)

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
                if message[0] == "fed":
                    self._through_s = message[1]
                ended |= message[0] in ("end", "failed")
                self._told(message)
        except (EOFError, OSError):
            if not ended:
                self._told(("gone", None))


def _work(order: RecognitionRequest, sound: Connection, back: Connection) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C ends the parent, which ends us
    from voicelog.grammar.grammar import Grammar, RecognitionContext
    from voicelog.recognition.recognize import recognize
    from voicelog.recognition.recognizers import make_recognizers

    try:
        grammar = Grammar.load(roster=order.roster, optional=order.optional)
        recognition_context = RecognitionContext(top_level=order.roster.top_level)
        company = _RecognizersUnderLoad(
            make_recognizers(grammar, recognition_context, order.listener), back
        )
        back.send(("ready", company.recognizers.names))

        def talking(now: bool) -> None:
            back.send(("talking", now))

        for heard in recognize(
            _blocks(sound, back, company),
            company.recognizers,
            grammar,
            recognition_context,
            order.recording,
            talking=talking,
            at_leisure=lambda: not sound.poll(),
        ):
            back.send(("heard", company.lowered(heard)))
        back.send(("end", None))
    except VoicelogError as error:
        back.send(("failed", str(error)))
    except (EOFError, OSError):
        return  # the parent is gone


class _RecognizersUnderLoad:
    """The listeners, the careful one of which is spared while the machine cannot follow."""

    def __init__(self, recognizers: Recognizers, back: Connection) -> None:
        self.recognizers = recognizers
        self._careful, self._back = recognizers.second_pass, back
        self._told = False

    def spare(self, now: bool) -> None:
        if self.recognizers.first_pass is not None and self.recognizers.note is None:
            self.recognizers.second_pass = None if now else self._careful

    def lowered(self, heard: RecognizedUtterance) -> RecognizedUtterance:
        """What only the quick listener heard where both should have is doubtful at best."""
        if self.recognizers.note is not None and not self._told:
            self._told = True
            self._back.send(("note", self.recognizers.note))
        utterance, readings, verdict = heard
        alone = self._careful is not None and self.recognizers.second_pass is None
        if not alone or verdict.status != "accepted":
            return heard
        digest = hashlib.sha256(f"{verdict.id} {FIRST_PASS_ONLY_VERSION}".encode()).hexdigest()
        update = {
            "id": f"v-{digest[:16]}",
            "status": "doubtful",
            "judge": f"{verdict.judge}, {FIRST_PASS_ONLY_VERSION}",
        }
        return utterance, readings, verdict.model_copy(update=update)


def _blocks(
    sound: Connection, back: Connection, company: _RecognizersUnderLoad
) -> Iterator[Samples]:
    samples = told = 0
    while data := sound.recv_bytes():
        if len(data) == 1:
            company.spare(data == _FIRST_PASS_ONLY)
            continue
        yield as_float(np.frombuffer(data, np.int16))
        samples += len(data) // 2
        if samples - told >= _PROGRESS:
            told = samples
            back.send(("fed", samples / RATE))
