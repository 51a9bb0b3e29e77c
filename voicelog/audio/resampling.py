"""From decoded samples of any rate and any number of channels to one channel at 16 kHz.

Everything here is a generator or holds less than a second of sound, so memory does not
grow with length, and works on windows cut by sample count, so the result does not depend
on how a decoder happened to portion the file.

Channels are never simply averaged. The mean of a recorder wired with one side inverted
is silence, and the mean with a dead side is 6 dB down. `Downmix` says what is done instead.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np
import soxr
from numpy.typing import NDArray

__all__ = ["RATE", "Downmix", "Samples", "rechunk", "resample_to_mono"]

RATE = 16_000
"""Sample rate inside the program, Hz."""

Samples = NDArray[np.float32]
"""Sound: float32, full scale is -1..1; shape (n,) for mono, (n, channels) before that."""

_MEMORY = 0.95  # weight of the past per window: with 0.5 s windows about 10 s
_FADE_S = 0.02


def rechunk(pieces: Iterable[Samples], size: int) -> Iterator[Samples]:
    """The same samples (along the first axis) in portions of `size`; the last may be shorter.

    Nothing is yielded for no samples, and never an empty portion.
    """
    held: list[Samples] = []
    count = 0
    for piece in pieces:
        held.append(piece)
        count += len(piece)
        if count < size:
            continue
        whole = np.concatenate(held)
        rest = count % size
        for start in range(0, count - rest, size):
            yield whole[start : start + size]
        held, count = [whole[count - rest :]], rest
    if count:
        yield np.concatenate(held)


class Downmix:
    """Channels to mono: aligned in sign, summed, and as loud as the louder channel.

    Per window of 0.5 s, from the channels' covariance over about the last 10 s:

    - a channel that runs against the loudest one (negative covariance) is turned over, so
      an inverted side adds up instead of cancelling;
    - the sum is scaled to the energy of the loudest channel. Equal channels therefore give
      their mean, one live and one dead channel the live one at its own level, and two
      people on two microphones are both heard, at most 3 dB down.

    A window decides its own weights (it is complete before it is mixed), and weights change
    over 20 ms. Where channels differ, a sum may pass full scale: the reader limits it.
    """

    def __init__(self, rate: int, channels: int) -> None:
        self.window = rate // 2
        self._fade = int(rate * _FADE_S)
        self._covariance = np.zeros((channels, channels))
        self._weights: NDArray[np.float64] | None = None

    def mix(self, window: Samples) -> Samples:
        """One window, shape (n, channels), as mono, shape (n,). Windows come in order."""
        if window.shape[1] == 1:
            return window[:, 0]
        before, now = self._weights, self._weigh(window)
        mono = _sum(window, now)
        if before is not None and not np.array_equal(before, now):
            fade = min(self._fade, len(window))
            ramp = np.linspace(0, 1, fade, endpoint=False, dtype=np.float32)
            old = _sum(window[:fade], before)
            mono[:fade] = old + ramp * (mono[:fade] - old)
        return mono

    def _weigh(self, window: Samples) -> NDArray[np.float64]:
        """The factor of each channel, shape (channels,), from this window and those before.

        window: shape (n, channels). C is the sum of products of the channels' samples, less
        their mean in each window, where every window before weighs 0.95 of the one after it;
        m the channel with the most energy, C[m, m]. With s[c] = -1 where C[m, c] < 0, else 1,

            factor[c] = s[c] * sqrt(C[m, m] / (s' C s)),

        by which the sum has the energy of channel m. All s are turned over where they would turn
        over the sound on the way. Own rule, no source; before any sound it is 1 / channels.
        """
        centred = window - window.mean(axis=0, dtype=np.float64)  # a DC offset is no sound
        self._covariance = _MEMORY * self._covariance + centred.T @ centred
        loudest = int(np.argmax(np.diagonal(self._covariance)))
        signs = np.where(self._covariance[loudest] < 0, -1.0, 1.0)
        energy = float(signs @ self._covariance @ signs)
        if energy <= 0:  # no sound yet: nothing to learn, and any weights will do
            return np.full(len(signs), 1 / len(signs))
        upright = np.eye(len(signs))[0] if self._weights is None else self._weights
        if signs @ upright < 0:
            signs = -signs  # the first channel is upright, and that must not change on the way
        # Matrix products may differ in the last bits from run to run; the sound must not.
        gain = round(float(np.sqrt(self._covariance[loudest, loudest] / energy)), 6)
        self._weights = signs * gain
        return self._weights


def _sum(window: Samples, weights: NDArray[np.float64]) -> Samples:
    mono = np.zeros(len(window), dtype=np.float32)
    for channel, weight in enumerate(weights.astype(np.float32)):
        mono += weight * window[:, channel]
    return mono


def resample_to_mono(pieces: Iterable[Samples], rate: int) -> Iterator[Samples]:
    """Mono pieces at `rate` Hz as mono pieces at `RATE`, in time with the input.

    Band-limited (soxr, "HQ"); n samples become n * RATE / rate, rounded.
    """
    if rate == RATE:
        yield from pieces
        return
    stream = soxr.ResampleStream(rate, RATE, 1, dtype="float32", quality="HQ")
    for piece in pieces:
        yield stream.resample_chunk(np.ascontiguousarray(piece))
    yield stream.resample_chunk(np.zeros(0, dtype=np.float32), last=True)
