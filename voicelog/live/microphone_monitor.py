"""Is the microphone alive: gone, silent, overloaded, or fine again, noticed within 2 s."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from voicelog.audio.level_meter import CLIP_LEVEL
from voicelog.audio.resampling import Samples

__all__ = ["FIRST_S", "BlockLevel", "MicrophoneMonitor", "block_level"]

GONE_S = 1.2
"""No sound for this long (s): unplugged."""
FIRST_S = 5.0
"""Seconds that a device may take to bring its first sound."""
SILENT_S = 1.5
"""Nothing but digital silence for this long (s): muted, or a dead cable."""
OVERLOADED_S = 1.0
"""Over this long (s) the share of clipped samples is taken."""
OVERLOADED_SHARE = 0.02
"""Share of clipped samples from which speech suffers; common practice, no source."""
RECOVERED_S = 3.0
"""Seconds without any trouble before it counts as over."""
_SILENT_PEAK = 2.0 / 32768

MicrophoneState = Literal["gone", "silent", "overloaded", "back"]


@dataclass(frozen=True, slots=True)
class BlockLevel:
    """A block of sound in three numbers: length (s), peak (0..1), clipped share (0..1)."""

    seconds: float
    peak: float
    clipped: float


def block_level(block: Samples, seconds: float) -> BlockLevel:
    """The level of a block of samples (full scale is 1) of any shape, that lasts `seconds` (s)."""
    size = np.abs(block)
    if not size.size:
        return BlockLevel(seconds, 0.0, 0.0)
    return BlockLevel(seconds, float(size.max()), float(np.mean(size >= CLIP_LEVEL)))


@dataclass(slots=True)
class MicrophoneMonitor:
    """Tell it of each block and of time passing (s, one clock); it says what changed.

    `missed_s`: how long (s) nothing was heard before the last "back".
    """

    started_s: float
    state: MicrophoneState | None = None
    missed_s: float = 0.0
    _lost_s: float | None = None
    _block_s: float | None = None
    _sound_s: float = 0.0
    _trouble_s: float = 0.0
    _recent: deque[tuple[float, BlockLevel]] = field(default_factory=deque)

    def block(self, at_s: float, level: BlockLevel) -> MicrophoneState | None:
        """A block of this level came; the new state where that changed it."""
        if self._block_s is None or level.peak > _SILENT_PEAK:
            self._sound_s = at_s
        self._block_s = at_s
        self._recent.append((at_s, level))
        while self._recent[0][0] < at_s - OVERLOADED_S:
            self._recent.popleft()
        if at_s - self._sound_s >= SILENT_S:
            self._lost_s = self._sound_s if self._lost_s is None else self._lost_s
            return self._enter("silent", at_s)
        total = sum(one.seconds for _, one in self._recent)
        clipped = sum(one.clipped * one.seconds for _, one in self._recent)
        if total >= OVERLOADED_S / 2 and clipped / total > OVERLOADED_SHARE:
            return self._enter("overloaded", at_s)
        return self._recovered(at_s)

    def tick(self, at_s: float) -> MicrophoneState | None:
        """Time passed; "gone" where that has just been found."""
        since = self._block_s
        limit = FIRST_S if since is None else GONE_S
        if at_s - (self.started_s if since is None else since) >= limit:
            if self._lost_s is None:
                self._lost_s = self.started_s if since is None else since
            self._sound_s = at_s  # what comes after the gap is judged from then on
            return self._enter("gone", at_s)
        return None

    def unheard_s(self, at_s: float) -> float:
        """For how long (s) nothing has been heard at that moment; 0 while there is sound."""
        return 0.0 if self._lost_s is None else at_s - self._lost_s

    def opened(self, at_s: float) -> None:
        """The device was opened again; it may take its time once more."""
        self.started_s, self._block_s = at_s, None
        self._recent.clear()

    def _enter(self, state: MicrophoneState, at_s: float) -> MicrophoneState | None:
        self._trouble_s = at_s
        if self.state == state:
            return None
        self.state = state
        return state

    def _recovered(self, at_s: float) -> MicrophoneState | None:
        if self.state in (None, "back"):
            return None
        if self.state == "overloaded" and at_s - self._trouble_s < RECOVERED_S:
            return None
        self.state = "back"
        self.missed_s = self.unheard_s(at_s)
        self._lost_s = None
        return "back"
