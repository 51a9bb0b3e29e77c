"""Results of a long measurement that is made in parts, kept in a file and added up at the end.

A part is one session. Its result is written as soon as it is there, so that what was measured is
not lost when a later session fails or time is up; a session that is run again takes the place of
what was there.
"""

from __future__ import annotations

import json
import os
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

Result = dict[str, Any]


class Parts:
    """The parts of one measurement (`kind`) in a file (None: in memory alone)."""

    def __init__(self, kind: str, path: Path | None = None) -> None:
        self._kind, self._path = kind, path
        self._all: dict[str, dict[str, Result]] = {}
        if path is not None and path.exists():
            self._all = json.loads(path.read_text(encoding="utf-8"))

    @property
    def results(self) -> Mapping[int, Result]:
        """What is there, by the session's number."""
        found = self._all.get(self._kind, {})
        return {int(number): found[number] for number in sorted(found, key=int)}

    def keep(self, number: int, result: Result) -> None:
        """Keep what came of a session, with when it was and how loaded the machine."""
        result |= {
            "at": f"{datetime.now(UTC):%Y-%m-%d %H:%M}",
            "load": round(os.getloadavg()[0], 1),
        }
        self._all.setdefault(self._kind, {})[str(number)] = result
        if self._path is not None:
            beside = self._path.with_name(f"{self._path.name}.new")
            beside.write_text(json.dumps(self._all, indent=1), encoding="utf-8")
            beside.replace(self._path)

    def missing(self, wanted: Sequence[int]) -> list[int]:
        """The sessions of which there is no result."""
        return [number for number in wanted if number not in self.results]
