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
    "EnoughEvidence",
    "LastCalls",
    "LittleButton",
    "NoStopStands",
    "NoStrongSign",
    "WorkedUnder",
]


class WorkedUnder(FrozenModel):
    """Under what a criterion counts calls: at a distraction, at it or above, on a trailing line at
    it, in drill steady, among birds or with gunfire. `distraction` is None where none was said."""

    kind: Literal[
        "distraction",
        "distraction or above",
        "trailing line",
        "drill steady",
        "among birds",
        "with gunfire",
    ]
    distraction: str | None = None


class CallCount(FrozenModel):
    """The calls of one day: `met` of `of` were answered unaided, and surely, which is worth so
    many `points`. It came after one call in `came` of them. Of those not met, `doubtful` are to
    check; in `stimulated` of the others there was a stimulus, in `unsaid` the button was not said,
    in `unended` the outcome was not (a call may be of two of these)."""

    day: date
    met: int
    of: int
    points: float
    came: int
    doubtful: int
    stimulated: int
    unsaid: int
    unended: int


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


class EnoughEvidence(Criterion):
    """`wanted` points, of at least `sessions` sessions (the calls of one day) of the last `days`
    days; `points` are there now.

    `counts` are those sessions, oldest first. `full` is the last day on which there was enough,
    where there no longer is. `old` sessions are longer ago than that and `undated` have no day:
    neither is counted. `where` is None where no distraction was said.
    """

    where: WorkedUnder | None
    points: float = 0.0
    wanted: float
    sessions: int
    days: int
    counts: tuple[CallCount, ...] = ()
    full: date | None = None
    old: int = 0
    undated: int = 0


class LastCalls(Criterion):
    """`passes` of the last `of` calls unaided, whatever sessions they are of: `found` of `among`
    were."""

    where: WorkedUnder
    passes: int
    of: int
    found: int
    among: int


class NoStrongSign(Criterion):
    """No strong sign since the first of the last `sessions`; `reps` are those that had one of
    `signs`. `seen`: whether there was any such session."""

    sessions: int
    seen: bool
    signs: tuple[str, ...]


class LittleButton(Criterion):
    """At most `most` of the last `of` calls of each of the last `sessions` with a stimulus, not
    rising."""

    sessions: int
    most: int
    of: int
    counts: tuple[ButtonCount, ...]
    rising: bool
    missing: Literal["", "less of it", "more sessions", "the word that none was used"]


class ByItself(Criterion):
    """No line help, peeling off or breaking in the last `sessions`; `reps` are those that had it.
    `seen`: whether there was any such session."""

    sessions: int
    seen: bool


class EasySessions(Criterion):
    """Two sessions in a row that were easy; `run` of them in a row were, up to that of `day`."""

    run: int
    day: date | None


class NoStopStands(Criterion):
    """A stop stands since the session of each of these days."""

    days: tuple[date | None, ...]
