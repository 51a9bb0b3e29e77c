"""What holds at this moment of a session: the dog, the level, whether a rep is open.

Read from what was derived from all entries so far; nothing is tracked beside it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from voicelog.app.derivation_walk import Derived
from voicelog.model import Entry, Mark, Rep, Session
from voicelog.model.phrases import EditPhrase, SessionControlPhrase, SessionDogPhrase
from voicelog.session.kept_states import KeptStates
from voicelog.session.recording_builder import MEMO_S
from voicelog.session.utterance_builder import STALE_S

__all__ = ["CurrentState", "StateWalk", "current_state"]


@dataclass(frozen=True, slots=True)
class CurrentState:
    """A moment (`at_s`, seconds in the recording) of the session under way.

    `session` is None before any was begun and after it was ended; `last` is the newest one,
    ended or not. `quiet`: she said "pause log", or speaks a memo.
    """

    at_s: float
    session: Session | None = None
    last: Session | None = None
    quiet: bool = False

    @property
    def newest_rep(self) -> Rep | None:
        """The newest rep of the session under way."""
        return self.session.reps[-1] if self.session and self.session.reps else None

    @property
    def open_rep(self) -> Rep | None:
        """The rep that waits for its outcome; one of which nobody spoke for long is over."""
        rep = self.newest_rep
        if rep is None or rep.void or rep.outcome is not None:
            return None
        if rep.drill == "find level" and rep.signs and rep.peak_level is not None:
            return None
        return rep if self.at_s - rep.end_s <= STALE_S else None

    @property
    def pressed(self) -> Mark | None:
        """The press of the open rep whose end was not said."""
        rep = self.open_rep
        if rep is None or self.session is None:
            return None
        for mark in reversed(self.session.marks):
            if mark.rep == rep.number and mark.kind in ("press", "off"):
                return mark if mark.kind == "press" else None
            if mark.at_s < rep.start_s:
                break
        return None

    @property
    def level(self) -> int | None:
        """The level last pressed or dialled."""
        marks = self.session.marks if self.session else ()
        levels = (m.value for m in reversed(marks) if m.kind in ("press", "dial"))
        return next((level for level in levels if isinstance(level, int)), None)

    @property
    def ceiling(self) -> int | None:
        """The session's ceiling, else the profile's."""
        if self.session is None:
            return None
        said = self.session.condition("ceiling")
        return int(said) if said is not None else self.session.dog.ceiling


def current_state(derivation: Derived, at_s: float) -> CurrentState:
    """The state at `at_s` (s in the recording), after all that `derivation` is of."""
    return StateWalk().state(derivation, at_s)


class StateWalk:
    """The state, each time there is more of the recording or later; `current_state` is this asked
    once."""

    def __init__(self) -> None:
        self._kept = KeptStates(_Control, replace)

    def state(self, derivation: Derived, at_s: float) -> CurrentState:
        """The state at `at_s` (s in the recording), after all that `derivation` is of."""
        entries = derivation.entries
        control = self._kept.resume(entries)
        for entry in entries[control.taken :]:
            control.take(entry)
        self._kept.keep(control, entries)
        last = derivation.sessions[-1] if derivation.sessions else None
        memo = control.memo_s is not None and at_s - control.memo_s <= MEMO_S
        session = None if control.ended else last
        return CurrentState(at_s, session, last, control.paused or memo)


@dataclass(slots=True)
class _Control:
    """What was said of the session itself, in so many entries."""

    taken: int = 0
    ended: bool = False
    paused: bool = False
    memo_s: float | None = None

    def take(self, entry: Entry) -> None:
        self.taken += 1
        if entry.status != "accepted" or entry.voided:
            return
        for phrase in entry.phrases:
            match phrase:
                case SessionDogPhrase(do="start" | "next") | SessionControlPhrase(do="end"):
                    self.ended, self.paused, self.memo_s = phrase.do == "end", False, None
                case SessionControlPhrase(do="pause" | "resume"):
                    self.paused, self.memo_s = phrase.do == "pause", None
                case EditPhrase(do="memo"):
                    self.memo_s = entry.start_s if self.memo_s is None else self.memo_s
                case EditPhrase(do="end memo"):
                    self.memo_s = None
                case _:
                    pass
