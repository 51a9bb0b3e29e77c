"""Cut a segment at the pauses inside it.

She talks to the dog and to the log in one go ("he looks happy ... drill find level"), with
too little silence between to end a segment. Where the whole is no note, its pieces may be.
"""

from __future__ import annotations

from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from voicelog.audio.resampling import Samples
from voicelog.recognition.segmenter import Segment
from voicelog.recognition.voice_activity import FRAME

__all__ = ["split_at_pauses"]

PAUSE = 9
"""Frames (0.29 s) of quiet, or without speech, that part two pieces."""
MARGIN = 4
"""Frames (0.12 s) of a pause that go with the piece beside it."""
SHORTEST = 8
"""Frames (0.24 s) that a piece must have; less is left out."""
QUIET = 0.05
"""A frame is quiet below this share of the segment's loud power (its 90th percentile)."""


def split_at_pauses(segment: Segment) -> tuple[Segment, ...]:
    """The parts of a segment between its pauses, in order; empty when there is only one.

    Each keeps a little of the pause on either side and its place in the stream.
    """
    spans = _spans(segment.sound, segment.speech)
    if len(spans) < 2:
        return ()
    return tuple(_cut(segment, first, last) for first, last in spans)


def _spans(sound: Samples, speech: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Frames [first, last) of each stretch that is not a pause, in order.

    A frame (32 ms) is quiet where its mean square is below QUIET times the 90th percentile of
    those of all frames, or where the voice activity detector heard no speech (`speech`), since wind
    is loud in a pause too; fewer than PAUSE quiet frames part nothing, and what is then shorter
    than SHORTEST is left out. Own rule, no source. A last frame that is not whole is not looked at.
    """
    frames = sound[: len(sound) // FRAME * FRAME].reshape(-1, FRAME)
    power = np.mean(np.square(frames), axis=1)
    quiet = (power < QUIET * np.percentile(power, 90)) | ~speech[: len(frames)]
    spans: list[tuple[int, int]] = []
    place = 0
    for is_quiet, run in groupby(quiet.tolist()):
        length = len(list(run))
        if not is_quiet:
            if spans and place - spans[-1][1] < PAUSE:
                spans[-1] = (spans[-1][0], place + length)
            else:
                spans.append((place, place + length))
        place += length
    return [span for span in spans if span[1] - span[0] >= SHORTEST]


def _cut(segment: Segment, first: int, last: int) -> Segment:
    start = max(0, first - MARGIN) * FRAME
    stop = min(len(segment.sound), (last + MARGIN) * FRAME)
    return Segment(
        start=segment.start + start,
        end=segment.start + last * FRAME,
        sound=segment.sound[start:stop],
        noise=segment.noise,
        speech=segment.speech[start // FRAME : -(-stop // FRAME)],
    )
