"""How long a collar was on: the stretches of wear in one session.

A collar is on from "collar fitted", or from the first press where that was not said, to
"collar stripped", "collar slipped" or "no collar", or to the end of the session.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from voicelog.model import Mark, Session
from voicelog.model.domain import COLLAR_OFF

__all__ = ["WearInterval", "WearSoFar"]


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


@dataclass(slots=True)
class WearSoFar:
    """The stretches of wear that are `over`, and the mark that `began` the one under way. `_after`
    is what `first_after` has found."""

    over: list[WearInterval] = field(default_factory=list)
    began: Mark | None = None
    _after: dict[float, Mark] = field(default_factory=dict)

    def take(self, mark: Mark, *, is_sure: bool) -> None:
        """The next mark of the session; one that is not sure never ends or restarts a stretch."""
        collar = mark.value if mark.kind == "equipment" and mark.name == "collar" else None
        began = self.began
        if began is None:
            if collar == "fitted" or mark.kind == "press":
                self.began = mark
        elif collar in ("fitted", *COLLAR_OFF) and is_sure:
            fitted = began.kind != "press"
            off = collar != "fitted"
            self.over.append(WearInterval(began.at_s, mark.at_s, began, fitted, off))
            self.began = None if off else mark

    def first_after(self, since_s: float, session: Session) -> Mark | None:
        """The session's first mark after that moment (s), looked for until there is one."""
        if since_s not in self._after:
            found = next((mark for mark in session.marks if mark.at_s > since_s), None)
            if found is None:
                return None
            self._after[since_s] = found
        return self._after[since_s]

    def stretches(self, session: Session) -> tuple[WearInterval, ...]:
        """All stretches so far, that under way to the end of the session."""
        began = self.began
        if began is None:
            return tuple(self.over)
        end_s = max(session.end_s, session.marks[-1].at_s)
        last = WearInterval(began.at_s, end_s, began, began.kind != "press", False)
        return (*self.over, last)
