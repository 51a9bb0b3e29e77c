"""What goes wrong by time alone, while nothing is said.

No second set of rules: a session is taken as if it ended at this moment, and a press that
is not over as if the thumb came off now, and the same rules look at that.
"""

from __future__ import annotations

from voicelog.live.current_state import CurrentState
from voicelog.model import Finding, Mark
from voicelog.safety.check import check, rules_with
from voicelog.safety.history import History
from voicelog.safety.settings import Settings

__all__ = ["overdue"]

NARRATED_S = 1.0
"""How far (s) what she says lies from what the thumb does; common practice, no source."""

_BY_TIME = rules_with("by time")


def overdue(state: CurrentState, history: History, settings: Settings) -> tuple[Finding, ...]:
    """Findings that this moment would bring: a press, a session or a wearing over its limit."""
    session = state.session
    if session is None or not session.marks:
        return ()
    marks = session.marks
    pressed = state.pressed
    if pressed is not None and pressed.name == "continuous":
        off_s = max(pressed.at_s, state.at_s - NARRATED_S)
        marks += (Mark(at_s=off_s, entry="", kind="off", name="off", rep=pressed.rep),)
    update = {"end_s": max(session.end_s, state.at_s), "marks": marks}
    found = check(session.model_copy(update=update), history, settings)
    return tuple(finding for finding in found if finding.rule in _BY_TIME)
