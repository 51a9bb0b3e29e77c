"""Which files of a folder have arrived whole, told by looking at their size and time again.

Nothing but equality with the look before is asked, never whether a file's time is old: the clock of
a network share or a camera need not be this machine's.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

__all__ = ["Arrivals", "FileStamp"]

_PATIENCE = 3.0
"""A file that has paused before is waited for that many times its longest pause."""
_LONGEST_S = 600.0
"""... but no longer than this, s."""


class FileStamp(NamedTuple):
    """What tells a file that has changed: its size in bytes and its time of change, ns."""

    size: int
    mtime_ns: int


@dataclass(slots=True)
class _Arriving:
    stamp: FileStamp
    since_s: float
    longest_pause_s: float = 0.0


class Arrivals:
    """Looks at files that are not taken in yet. `settle_s` is how long (s) a file has to stay as
    it is."""

    def __init__(self, settle_s: float) -> None:
        self._settle_s = settle_s
        self._arriving: dict[Path, _Arriving] = {}

    def look(self, now_s: float, stamps: Mapping[Path, FileStamp]) -> dict[Path, float]:
        """How long (s) each file that is steady has been so, by at least two looks.

        Args:
            now_s: the time of this look, on a clock that only goes forward, s.
            stamps: the files there are; one that is no longer among them is forgotten.
        """
        steady: dict[Path, float] = {}
        arriving: dict[Path, _Arriving] = {}
        for path, stamp in stamps.items():
            one = self._arriving.get(path)
            if one is None:
                one = _Arriving(stamp, now_s)
            elif one.stamp != stamp:
                pause_s = max(one.longest_pause_s, now_s - one.since_s)
                one = _Arriving(stamp, now_s, pause_s)
            arriving[path] = one
            wait_s = max(self._settle_s, min(_LONGEST_S, _PATIENCE * one.longest_pause_s))
            if stamp.size and now_s > one.since_s and now_s - one.since_s >= wait_s:
                steady[path] = now_s - one.since_s
        self._arriving = arriving
        return steady
