"""Whether two files hold the same sound, whatever their formats, from a coarse outline of each.

The outline is the loudness in a few bands, a tenth of a second at a time: what any codec keeps,
and no two recordings share, be they of the same voice and the same words.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import islice
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from voicelog.audio.files import BLOCK, AudioReader
from voicelog.audio.resampling import RATE, Samples

__all__ = ["SoundOutline", "likeness", "sound_outline"]

SoundOutline = NDArray[np.float32]
"""Loudness, dB, shape (tenths of a second, BANDS), each band around its own mean."""

FRAME = RATE // 10
BANDS = 6
_EDGES_HZ = np.geomspace(200.0, 3400.0, BANDS + 1)
"""A telephone's band, which every recorder keeps."""
_FLOOR_DB = 50.0
"""What lies further under the loudest is counted as that far under, dB: codecs differ there."""
_LEAST_DB = 1.0
"""How much an outline has to vary, dB (root mean square)."""
_MOST_LAG = 10
"""How far the two may be shifted, in frames: codecs put up to a tenth of a second before."""


def sound_outline(path: Path, most_s: float | None = None) -> SoundOutline:
    """The outline of a file's sound; one of no frames where it is shorter than a tenth of a
    second. `path` is a file of any format that is read, and `most_s` how much of its start (s;
    None: all of it); raises what `AudioReader` raises."""
    most = None if most_s is None else round(most_s * RATE / BLOCK)
    with AudioReader(path) as reader:
        return _outline(islice(reader, most))


def likeness(a: SoundOutline, b: SoundOutline) -> float:
    """How alike two outlines are: the highest correlation (Pearson's, -1 to 1) of what `a` and `b`
    share, over shifts of up to a second; 0 where they share under five seconds, or one of them
    hardly changes (silence, a steady tone), so that there is nothing to know it by."""
    best = 0.0
    for lag in range(-_MOST_LAG, _MOST_LAG + 1):
        one, other = a[max(0, lag) :], b[max(0, -lag) :]
        shared = min(len(one), len(other))
        if shared < 50:
            continue
        x, y = one[:shared] - one[:shared].mean(0), other[:shared] - other[:shared].mean(0)
        if min((x * x).mean(), (y * y).mean()) < _LEAST_DB**2:
            continue
        best = max(best, float((x * y).sum() / np.sqrt((x * x).sum() * (y * y).sum())))
    return best


def _outline(blocks: Iterable[Samples]) -> SoundOutline:
    bins = np.fft.rfftfreq(FRAME, 1 / RATE)
    edges = np.searchsorted(bins, _EDGES_HZ)
    window = np.hanning(FRAME).astype(np.float32)
    rest = np.zeros(0, np.float32)
    rows: list[NDArray[np.float32]] = []
    for block in blocks:
        sound = np.concatenate((rest, block))
        whole = len(sound) // FRAME
        rest = sound[whole * FRAME :]
        if whole:
            power = np.abs(np.fft.rfft(sound[: whole * FRAME].reshape(-1, FRAME) * window)) ** 2
            rows.append(np.add.reduceat(power, edges, axis=1)[:, :BANDS].astype(np.float32))
    if not rows:
        return np.zeros((0, BANDS), np.float32)
    power = np.concatenate(rows)
    db = 10 * np.log10(np.maximum(power, power.max() * 10 ** (-_FLOOR_DB / 10) + 1e-12))
    centred: SoundOutline = (db - db.mean(0)).astype(np.float32)
    return centred
