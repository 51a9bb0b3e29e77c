"""What goes wrong by time alone, while nothing is said.

No second set of rules: a session is taken as if it ended at this moment, and a press that
is not over as if the thumb came off now, and the same rules look at that.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import islice

from voicelog.live.current_state import CurrentState
from voicelog.model import Finding, Mark, Session
from voicelog.safety.check import RULES, gravest_first
from voicelog.safety.history import History
from voicelog.safety.rule import Rule
from voicelog.safety.rule_walk import RuleWalk
from voicelog.safety.settings import Settings

__all__ = ["OverdueWalk", "overdue"]

NARRATED_S = 1.0
"""How far (s) what she says lies from what the thumb does; common practice, no source."""

_BY_TIME = tuple(rule for rule in RULES if "by time" in rule.live)


def overdue(state: CurrentState, history: History, settings: Settings) -> tuple[Finding, ...]:
    """Findings that this moment would bring: a press, a session or a wearing over its limit."""
    return OverdueWalk(settings).overdue(state, history)


class OverdueWalk:
    """The same, asked again and again of one session after another, with these `settings`."""

    def __init__(self, settings: Settings) -> None:
        self._settings = settings
        self._walk = RuleWalk(_BY_TIME)
        self._looked: tuple[Session, History] | None = None
        self._found: Mapping[str, Mapping[str, Finding]] = {}

    def overdue(self, state: CurrentState, history: History) -> tuple[Finding, ...]:
        """What the moment of `state` would bring beyond what was found by then; `history` is of the
        session's dog."""
        session = state.session
        if session is None or not session.marks:
            return ()
        looked = self._looked
        if looked is None or looked[0] is not session or looked[1] is not history:
            self._found = dict(self._walk.look(session, history, self._settings).found)
            self._looked = session, history
        marks = session.marks
        pressed = state.pressed
        if pressed is not None and pressed.name == "continuous":
            off_s = max(pressed.at_s, state.at_s - NARRATED_S)
            off = Mark(at_s=off_s, entry="", kind="off", name="off", rep=pressed.rep)
            marks = marks.added(off)
        update = {"end_s": max(session.end_s, state.at_s), "marks": marks}
        found = self._walk.ahead(session.model_copy(update=update))
        return gravest_first(one for rule in _BY_TIME for one in self._brought(rule, found))

    def _brought(self, rule: Rule, found: Mapping[str, Mapping[str, Finding]]) -> Iterator[Finding]:
        """What was found by a rule in the end that was taken. What had been found before it stands
        first and is not told again, unless only the session's end decides it."""
        now, before = found.get(rule.name, {}), self._found.get(rule.name, {})
        known = 0 if rule.anew or rule.decided == "session end" else len(before)
        return islice(now.values(), known, None)
