"""A phone as the mouth of a live session: what it is to sound, and what is too late for that.

The phone asks for its answers, and says each time how much it has recorded. Every answer stands at
the sample that was heard when it was given, so its age is the sound recorded since, whatever clocks
say. One that is older than `LATE_S` is never sounded as if it were about now: of a tone nothing is
left, words come as text, marked late.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, replace
from time import monotonic

from voicelog.audio.recorder import as_pcm
from voicelog.audio.resampling import RATE, Samples
from voicelog.live.outputs import SpeakWords

__all__ = ["LATE_S", "PhoneAnswer", "PhoneAnswers", "is_late"]

LATE_S = 5.0
"""From which age (s) on an answer is text only; common practice, no source."""
_REMEMBERED = 64
"""Of how many answers that the phone has, one may still be broken off."""


def is_late(at: int, recorded: int | None, since_s: float) -> bool:
    """Whether what is said at a moment comes too late to be sounded.

    Args:
        at: the sample that had been heard by then.
        recorded: how many samples the phone had recorded when it last told; None: it records
            something else by now, or nothing.
        since_s: how long ago that was, s.

    Returns:
        True where recorded - at samples and `since_s` are more than LATE_S together.
    """
    return recorded is None or (recorded - at) / RATE + since_s > LATE_S


@dataclass(frozen=True, slots=True)
class PhoneAnswer:
    """Something for the phone: `number` counts them, `at` is the sample that it is about. `words`
    are "" for a tone, `pcm` the sound (16 kHz mono, 16 bits, little-endian), empty for text.
    `late`: it is no sound any more. `cancels`: these numbers break off, and it is nothing else."""

    number: int
    at: int
    words: str = ""
    pcm: bytes = b""
    late: bool = False
    cancels: tuple[int, ...] = ()


class PhoneAnswers:
    """The answers of one live session, from its own thread to the phone's, which asks; an
    `AudioOutput`. `at` gives the sample that is heard now, `now_s` a clock (s) that is never set.

    `trouble` is never said: a phone out of reach brings no sound either, and nothing is decided
    without sound.
    """

    trouble: str | None = None

    def __init__(self, at: Callable[[], int], now_s: Callable[[], float] = monotonic) -> None:
        self._at, self._now_s = at, now_s
        self._waiting: deque[tuple[PhoneAnswer, object]] = deque()
        self._had: deque[tuple[PhoneAnswer, object]] = deque(maxlen=_REMEMBERED)
        self._count = 0
        self._recorded: int | None = None  # until the phone tells, all may be old
        self._told_s = now_s()
        self._changed = threading.Condition()
        self.over = False
        """Whether the session is over, and nothing more is added."""

    def told(self, recorded: int | None) -> None:
        """The phone says how many samples it has recorded of this recording; None: it does not
        record it any more."""
        with self._changed:
            self._recorded, self._told_s = recorded, self._now_s()

    @property
    def late(self) -> bool:
        """Whether what is said now is too late to be sounded."""
        with self._changed:
            return self._is_late(self._at())

    def play(self, sound: Samples, key: object = None) -> None:
        """Take what is to sound; see `AudioOutput`. A late tone is left out."""
        words = key.words if isinstance(key, SpeakWords) else ""
        with self._changed:
            at = self._at()
            late = self._is_late(at)
            if late and not words:
                return
            pcm = b"" if late else as_pcm(sound).astype("<i2").tobytes()
            self._put(PhoneAnswer(self._next(), at, words, pcm, late), key)

    def cancel(self, over: Callable[[object], bool]) -> None:
        """Break off what the phone has, and forget what it has not, where the key is `over`. Text
        that came late is told all the same."""
        with self._changed:
            self._waiting = deque(
                (one, key) for one, key in self._waiting if one.late or not over(key)
            )
            numbers = tuple(one.number for one, key in self._had if over(key))
            if numbers:
                self._put(PhoneAnswer(self._next(), self._at(), cancels=numbers), None)

    def release(self) -> None:
        """There is no device to let go of."""

    def close(self) -> None:
        """The session is over: whoever waits is answered, with what there is."""
        with self._changed:
            self.over = True
            self._changed.notify_all()

    def wait(self, recorded: int | None, after: int, seconds: float) -> tuple[PhoneAnswer, ...]:
        """What the phone does not have yet; the same again until it asks for what comes after.

        Args:
            recorded: as `told`.
            after: the number of the last answer that it has, 0 for none.
            seconds: how long (s) to wait for the next one.
        """
        self.told(recorded)
        with self._changed:
            self._changed.wait_for(
                lambda: self.over or any(one.number > after for one, _ in self._waiting), seconds
            )
            while self._waiting and self._waiting[0][0].number <= after:
                self._waiting.popleft()
            self._had.extend(
                pair for pair in self._waiting if all(pair[0] is not one for one, _ in self._had)
            )
            return tuple(filter(None, (self._as_of_now(one) for one, _ in self._waiting)))

    def _as_of_now(self, answer: PhoneAnswer) -> PhoneAnswer | None:
        """The answer, without its sound where that is too late by now; None for a late tone."""
        if answer.late or answer.cancels or not self._is_late(answer.at):
            return answer
        return replace(answer, pcm=b"", late=True) if answer.words else None

    def _is_late(self, at: int) -> bool:
        return is_late(at, self._recorded, self._now_s() - self._told_s)

    def _next(self) -> int:
        self._count += 1
        return self._count

    def _put(self, answer: PhoneAnswer, key: object) -> None:
        self._waiting.append((answer, key))
        self._changed.notify_all()
