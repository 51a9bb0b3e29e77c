"""What one session leaves behind for the rules that look across sessions, as a small value."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from statistics import median

from voicelog.analysis.session_digest import RepDigest
from voicelog.model import FrozenModel, Mode
from voicelog.model.domain import FIND_LEVEL, STIMULATION

__all__ = ["AnsweredLevel", "DrillCount", "SessionWorkload", "session_workload"]


class AnsweredLevel(FrozenModel):
    """The middle level answered in one drill, mode and distraction, of so many reps."""

    drill: str | None
    mode: Mode
    distraction: str | None
    level: float
    of: int


class DrillCount(FrozenModel):
    """Reps with an outcome at one drill and distraction, and those with the button."""

    drill: str | None
    distraction: str | None
    of: int
    button: int


class SessionWorkload(FrozenModel):
    """A session's work; `stressed` of its `reps` showed stress, doubtful ones among them."""

    answered: tuple[AnsweredLevel, ...] = ()
    worked: tuple[DrillCount, ...] = ()
    reps: int = 0
    stressed: int = 0


def session_workload(reps: Sequence[RepDigest], *, doubtful: bool = False) -> SessionWorkload:
    """The work of a session's reps, with the doubtful ones believed or left out. Stress counts
    from doubtful reps too, and from no void one."""
    live = [rep for rep in reps if rep.state != "void"]
    levels: dict[tuple[str | None, Mode, str | None], list[int]] = defaultdict(list)
    counts: dict[tuple[str | None, str | None], list[bool]] = defaultdict(list)
    for rep in live:
        if rep.drill == FIND_LEVEL or rep.outcome in (None, "unknown"):
            continue
        if rep.state == "check" and not doubtful:
            continue
        pressed = rep.mode in STIMULATION
        counts[rep.drill, rep.distraction].append(pressed)
        if pressed and rep.came and rep.levels:
            levels[rep.drill, rep.mode, rep.distraction].append(max(rep.levels))
    return SessionWorkload(
        answered=tuple(
            AnsweredLevel(
                drill=drill, mode=mode, distraction=at, level=float(median(some)), of=len(some)
            )
            for (drill, mode, at), some in levels.items()
        ),
        worked=tuple(
            DrillCount(drill=drill, distraction=at, of=len(some), button=sum(some))
            for (drill, at), some in counts.items()
        ),
        reps=len(live),
        stressed=sum(rep.stress for rep in live),
    )
