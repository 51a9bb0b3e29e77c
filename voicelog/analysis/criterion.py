"""What has to hold before a step, each kind of criterion with the numbers it was read from.

How they are read is in `readiness`; what each wanted, found and misses is worded in
`voicelog.report.wording.readiness`.
"""

from __future__ import annotations

from datetime import date
from typing import Literal

from voicelog.model import FrozenModel

__all__ = [
    "ButtonCount",
    "ByItself",
    "CallCount",
    "Criterion",
    "EasySessions",
    "FirstCalls",
    "LittleButton",
    "NoStopStands",
    "NoStrongSign",
    "WorkedUnder",
]


class WorkedUnder(FrozenModel):
    """Under what a criterion counts calls: at a distraction, at it or above, on a trailing line at
    it, or in drill steady. `distraction` is None where it was not said."""

    kind: Literal["distraction", "distraction or above", "trailing line", "drill steady"]
    distraction: str | None = None


class CallCount(FrozenModel):
    """The calls of one session: `met` of `of` were answered unaided, and surely. Beside them it
    came in `doubtful` reps, in `stimulated` ones, and in `unsaid` ones of which the button was
    not said."""

    day: date | None
    met: int
    of: int
    doubtful: int
    stimulated: int
    unsaid: int


class ButtonCount(FrozenModel):
    """Of the `of` calls of one session: those with a stimulus, and those of which it was not
    said."""

    used: int
    unsaid: int
    of: int


class Criterion(FrozenModel):
    """One thing that has to hold: whether it is met, and the ids of the reps it was read from.

    What was wanted, what was found and what is missing are the fields of each kind.
    """

    met: bool
    reps: tuple[str, ...] = ()


class FirstCalls(Criterion):
    """`passes` of the last `of` calls unaided in each of `sessions` in a row; `run` sessions in a
    row, the last of all among them, were so. `where` is None where no distraction was said."""

    where: WorkedUnder | None
    passes: int
    of: int
    sessions: int
    counts: tuple[CallCount, ...] = ()
    run: int = 0


class NoStrongSign(Criterion):
    """No strong sign since the first of those sessions; `reps` are those that had one of `signs`.
    `seen`: whether there was any such session."""

    seen: bool
    signs: tuple[str, ...]


class LittleButton(Criterion):
    """At most `most` of the last `of` calls of each of those sessions with a stimulus, not
    rising."""

    most: int
    of: int
    counts: tuple[ButtonCount, ...]
    rising: bool
    missing: Literal["", "less of it", "more sessions", "the word that none was used"]


class ByItself(Criterion):
    """No line help, peeling off or breaking; `reps` are those that had it. `seen`: whether there
    was any such session."""

    seen: bool


class EasySessions(Criterion):
    """Two sessions in a row that were easy; `run` of them in a row were, up to that of `day`."""

    run: int
    day: date | None


class NoStopStands(Criterion):
    """A stop stands since the session of each of these days."""

    days: tuple[date | None, ...]
