"""Why something is advised, as a code with its numbers, and the reps it rests on.

What a reason says in words is made of it in `voicelog.report.wording.reasons`.
"""

from __future__ import annotations

from datetime import date
from typing import Literal

from voicelog.analysis.levels import Ceiling
from voicelog.analysis.open_matters import OpenMatter
from voicelog.analysis.readiness import ReadinessStep
from voicelog.model import FrozenModel, Mode

__all__ = ["Reason", "ReasonCode"]

ReasonCode = Literal[
    # stops and rest
    "open matter",
    "sore skin",
    "aggression",
    "enough today",
    "stop today",
    "strong sign today",
    # without the button
    "stop stands",
    "too young",
    "ceiling",
    "skin",
    "skin to look at",
    "went against",
    "no levels",
    # the limits of a level
    "thin evidence",
    "no date",
    "answered low",
    "faded",
    "step above answered",
    "none answered",
    "other transmitter",
    # at which distraction
    "no distraction",
    "bad day",
    "after a stop",
    "strong sign there",
    "few unaided",
    "ready",
    "not ready",
    # what to watch
    "first sign",
    "strong sign",
    "weak signs",
    "no sign",
    # what the head trainer should see
    "stress",
    "stuck",
    "not worked out",
]


class Reason(FrozenModel):
    """A code, the ids of the reps that say so, and what its words need; the rest stays empty.

    `names` are rules, signs, the state of the skin, or what went wrong; `counts` how often each
    name was seen. `count` counts reps, sessions, stops, weeks or months, `needed` is what it is
    held against, `level` a level on the dial. `at` is a distraction of the ladder, `next` the one
    to go to. `cleared`: the day on which red or sore skin was last said to be clear since.
    """

    code: ReasonCode
    reps: tuple[str, ...] = ()
    day: date | None = None
    cleared: date | None = None
    names: tuple[str, ...] = ()
    counts: tuple[int, ...] = ()
    count: int = 0
    needed: int = 0
    level: int | None = None
    mode: Mode | None = None
    at: str = ""
    next: str = ""
    ceiling: Ceiling | None = None
    step: ReadinessStep | None = None
    matter: OpenMatter | None = None
