"""Does her voice arrive as it did at first? A slipped clip, a turned gain, a scarf over it.

Between notes there is only wind, which comes and goes; so it is the notes that are measured.
"""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass, field
from statistics import median
from typing import Literal

__all__ = ["VoiceLevelState", "VoiceLevelWatch"]

VoiceLevelState = Literal["fainter", "louder", "as before"]

FIRST_NOTES = 5
"""How many notes say how loud she is at first."""
DRIFT_DB = 10.0
"""So far (dB) from that two notes in a row have to be; common practice, no source."""
BACK_DB = 5.0
"""So near (dB) two notes in a row have to come for it to be over."""
KEPT_S = 60.0
"""How long (s) the levels of blocks are kept for a note that is still being recognized."""


@dataclass(slots=True)
class VoiceLevelWatch:
    """Tell it of each block of sound and of each note, from one thread; it tells changes."""

    state: VoiceLevelState = "as before"
    _blocks: deque[tuple[float, float]] = field(default_factory=deque)
    _first: list[float] = field(default_factory=list)
    _last_db: float | None = None

    def block(self, end_s: float, peak: float) -> None:
        """A block that ends at `end_s` (s in the recording) has this `peak` (0..1)."""
        self._blocks.append((end_s, peak))
        while self._blocks[0][0] < end_s - KEPT_S:
            self._blocks.popleft()

    def note(self, start_s: float, end_s: float) -> VoiceLevelState | None:
        """A note was heard from `start_s` to `end_s` (s in the recording); the new state where it
        changed that."""
        peak = max((peak for at_s, peak in self._blocks if start_s <= at_s <= end_s), default=0.0)
        if peak <= 0.0:
            return None
        level_db = 20.0 * math.log10(peak)
        if len(self._first) < FIRST_NOTES:
            self._first.append(level_db)
            return None
        usual_db = median(self._first)
        before, self._last_db = self._last_db, level_db
        if before is None:
            return None
        off = sorted((before - usual_db, level_db - usual_db), key=abs)
        state = self.state
        if abs(off[0]) >= DRIFT_DB and off[0] * off[1] > 0.0:
            state = "fainter" if off[0] < 0.0 else "louder"
        elif abs(off[1]) <= BACK_DB:
            state = "as before"
        if state == self.state:
            return None
        self.state = state
        return state
