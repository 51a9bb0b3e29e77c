"""What holds at this moment of a session: the dog, the level, whether a rep is open.

Read from what was derived from all entries so far; nothing is tracked beside it.
"""

from __future__ import annotations

from dataclasses import dataclass

from voicelog.app.derive import Derivation
from voicelog.model import Mark, Rep, Session
from voicelog.model.phrases import EditPhrase, SessionControlPhrase, SessionDogPhrase
from voicelog.session.recording_builder import MEMO_S
from voicelog.session.utterance_builder import STALE_S

__all__ = ["CurrentState", "current_state"]


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
        marks = (mark for mark in self.session.marks if mark.rep == rep.number)
        thumb = [mark for mark in marks if mark.kind in ("press", "off")]
        return thumb[-1] if thumb and thumb[-1].kind == "press" else None

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


def current_state(derivation: Derivation, at_s: float) -> CurrentState:
    """The state at `at_s` (s in the recording), after all that `derivation` is of."""
    ended, paused = not derivation.sessions, False
    memo_s: float | None = None
    for entry in derivation.entries:
        if entry.status != "accepted" or entry.voided:
            continue
        for phrase in entry.phrases:
            match phrase:
                case SessionDogPhrase(do="start" | "next") | SessionControlPhrase(do="end"):
                    ended, paused, memo_s = phrase.do == "end", False, None
                case SessionControlPhrase(do="pause" | "resume"):
                    paused, memo_s = phrase.do == "pause", None
                case EditPhrase(do="memo"):
                    memo_s = entry.start_s if memo_s is None else memo_s
                case EditPhrase(do="end memo"):
                    memo_s = None
                case _:
                    pass
    last = derivation.sessions[-1] if derivation.sessions else None
    memo = memo_s is not None and at_s - memo_s <= MEMO_S
    return CurrentState(at_s, None if ended else last, last, paused or memo)
