"""How long a collar was on: the stretches of wear in one session.

A collar is on from "collar fitted", or from the first press where that was not said, to
"collar stripped", "collar slipped" or "no collar", or to the end of the session.
"""

from __future__ import annotations

from collections.abc import Container
from dataclasses import dataclass

from voicelog.model import Mark, Session
from voicelog.model.domain import COLLAR_OFF

__all__ = ["WearInterval", "wear_intervals"]


@dataclass(frozen=True, slots=True)
class WearInterval:
    """Wear from `start_s` to `end_s` (s in the recording).

    `fitted`: "collar fitted" began it, so it does not go on from an earlier session.
    `off`: the collar was said to be off at its end.
    """

    start_s: float
    end_s: float
    began: Mark
    fitted: bool
    off: bool


def wear_intervals(session: Session, doubtful: Container[str] = ()) -> tuple[WearInterval, ...]:
    """The stretches of wear in a session; entries in `doubtful` never end or restart one."""
    stretches: list[WearInterval] = []
    began: Mark | None = None
    for mark in session.marks:
        collar = mark.value if mark.kind == "equipment" and mark.name == "collar" else None
        if began is None:
            if collar == "fitted" or mark.kind == "press":
                began = mark
        elif collar in ("fitted", *COLLAR_OFF) and mark.entry not in doubtful:
            fitted = began.kind != "press"
            off = collar != "fitted"
            stretches.append(WearInterval(began.at_s, mark.at_s, began, fitted, off))
            began = None if off else mark
    if began is not None:
        end_s = max(session.end_s, session.marks[-1].at_s)
        stretches.append(WearInterval(began.at_s, end_s, began, began.kind != "press", False))
    return tuple(stretches)
