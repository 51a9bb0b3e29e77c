"""What one session leaves behind for the rules that look across sessions, as a small value."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from statistics import median

from voicelog.analysis.series import FIND_LEVEL, STIMULATION
from voicelog.analysis.sitting import Try
from voicelog.model import Mode, Record

__all__ = ["Answered", "Work", "Worked", "work_of"]


class Answered(Record):
    """The middle level answered in one drill, mode and distraction, of so many reps."""

    drill: str | None
    mode: Mode
    distraction: str | None
    level: float
    of: int


class Worked(Record):
    """Reps with an outcome at one drill and distraction, and those with the button."""

    drill: str | None
    distraction: str | None
    of: int
    button: int


class Work(Record):
    """A session's work; `stressed` of its `reps` showed stress, doubtful ones among them."""

    answered: tuple[Answered, ...] = ()
    worked: tuple[Worked, ...] = ()
    reps: int = 0
    stressed: int = 0


def work_of(tries: Sequence[Try], *, doubtful: bool = False) -> Work:
    """The work of a session's reps, with the doubtful ones believed or left out. Stress counts
    from doubtful reps too, and from no void one."""
    live = [rep for rep in tries if rep.heard != "void"]
    levels: dict[tuple[str | None, Mode, str | None], list[int]] = defaultdict(list)
    counts: dict[tuple[str | None, str | None], list[bool]] = defaultdict(list)
    for rep in live:
        if rep.drill == FIND_LEVEL or rep.outcome in (None, "unknown"):
            continue
        if rep.heard == "look" and not doubtful:
            continue
        pressed = rep.mode in STIMULATION
        counts[rep.drill, rep.distraction].append(pressed)
        if pressed and rep.came and rep.levels:
            levels[rep.drill, rep.mode, rep.distraction].append(max(rep.levels))
    return Work(
        answered=tuple(
            Answered(
                drill=drill, mode=mode, distraction=at, level=float(median(some)), of=len(some)
            )
            for (drill, mode, at), some in levels.items()
        ),
        worked=tuple(
            Worked(drill=drill, distraction=at, of=len(some), button=sum(some))
            for (drill, at), some in counts.items()
        ),
        reps=len(live),
        stressed=sum(rep.stress for rep in live),
    )
