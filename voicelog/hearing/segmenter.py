"""Cut a stream of sound into segments that may hold speech.

A voice-activity detector judges frames of 30 ms. A segment starts when most of a short
window is speech and ends after a hang-over without any; a little of what lies before and
after goes with it, since words begin and end softly. Frames are counted from the start of
the stream, so however the sound is cut into blocks the segments are the same.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
from pocketsphinx import Vad

from voicelog.hearing.listener import RATE, Sound

__all__ = ["FRAME", "Segment", "segments"]

FRAME = 480
"""Samples in a frame: 30 ms."""

WINDOW = 8
"""Frames (0.24 s) that are looked at to start a segment."""
STARTS = 5
"""Speech frames among them that start one."""
HANG_OVER = 16
"""Frames (0.48 s) without speech that end a segment."""
BEFORE = 10
"""Frames (0.3 s) kept before the window that started it."""
AFTER = 10
"""Frames (0.3 s) kept after its last speech frame."""
LONGEST = 466
"""Frames (14 s) after which a segment is cut: a decoder may not be kept for minutes."""
VAD_MODE = 2
"""0 takes most for speech, 3 least; 2 found every utterance of the tuning narrations."""


@dataclass(frozen=True, slots=True)
class Segment:
    """A stretch of sound: its first sample in the stream, the samples, the noise around it.

    `end` is the sample after its last speech frame, before the margin. `noise` is the mean
    power of the frames without speech heard so far, full scale 1, or None before any.
    """

    start: int
    end: int
    sound: Sound
    noise: float | None


def segments(blocks: Iterable[Sound]) -> Iterator[Segment]:
    """The segments of a stream of float32 blocks at 16 kHz, in order."""
    cutter = _Cutter()
    for frame in _frames(blocks):
        found = cutter.take(frame)
        if found is not None:
            yield found
    last = cutter.finish()
    if last is not None:
        yield last


def _frames(blocks: Iterable[Sound]) -> Iterator[Sound]:
    """The stream in whole frames; the last one may be short."""
    rest = np.zeros(0, np.float32)
    for block in blocks:
        rest = np.concatenate((rest, block))
        whole = len(rest) // FRAME * FRAME
        yield from rest[:whole].reshape(-1, FRAME)
        rest = rest[whole:].copy()
    if len(rest):
        yield rest


class _Cutter:
    """`kept` are the frames that may still go into a segment, `count` those seen in all."""

    def __init__(self) -> None:
        self.vad = Vad(VAD_MODE, RATE, FRAME / RATE)
        self.kept: deque[Sound] = deque(maxlen=BEFORE + WINDOW)
        self.recent: deque[bool] = deque(maxlen=WINDOW)
        self.open: list[Sound] | None = None
        self.count = 0
        self.since_speech = 0
        self.noise_sum, self.noise_frames = 0.0, 0

    def take(self, frame: Sound) -> Segment | None:
        speech = bool(self.vad.is_speech(pcm16(np.pad(frame, (0, FRAME - len(frame))))))
        self.count += 1
        self.recent.append(speech)
        if self.open is None:
            self.kept.append(frame)
            if not speech:
                self.noise_sum += float(np.mean(np.square(frame)))
                self.noise_frames += 1
            if sum(self.recent) >= STARTS:
                self.open = list(self.kept)
                self.since_speech = 0
            return None
        self.open.append(frame)
        self.since_speech = 0 if speech else self.since_speech + 1
        if self.since_speech >= HANG_OVER or len(self.open) >= LONGEST:
            return self.close()
        return None

    def finish(self) -> Segment | None:
        return self.close() if self.open is not None else None

    def close(self) -> Segment:
        frames = self.open or []
        margin = max(0, self.since_speech - AFTER)
        kept = frames[: len(frames) - margin]
        sound = np.concatenate(kept)
        start = (self.count - len(frames)) * FRAME
        end = min((self.count - self.since_speech) * FRAME, start + len(sound))
        # What was cut off behind may be the pre-roll of the next segment.
        self.kept.clear()
        self.kept.extend(frames[len(frames) - margin :])
        self.recent.clear()
        self.open = None
        noise = self.noise_sum / self.noise_frames if self.noise_frames else None
        return Segment(start, end, sound, noise)


def pcm16(sound: Sound) -> bytes:
    """Samples as 16-bit signed integers in the machine's order, as the engines want them."""
    return (np.clip(sound, -1.0, 1.0) * 32767.0).astype(np.int16).tobytes()
