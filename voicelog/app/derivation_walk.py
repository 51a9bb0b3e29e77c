"""What follows from a recording's events, each time there are more of them.

The same steps for a recording from disk and for one under way; of the latter what is settled is
kept, so that a note in the fourth hour costs what one in the fifth minute does.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import partial
from typing import Protocol

from voicelog.grammar.grammar import Grammar
from voicelog.grammar.strange_names import begun_by_stranger
from voicelog.model import Entry, Event, Finding, Session
from voicelog.safety.check import FindingsWalk
from voicelog.safety.contingency import RepTimesWalk
from voicelog.safety.history import History, PastSession, history_after, past_session
from voicelog.safety.settings import Settings, stored_settings
from voicelog.session.entries import EntriesWalk, EntryMemo
from voicelog.session.variants import SessionVariants, VariantsWalk
from voicelog.store.records import Recording

__all__ = [
    "EVEN",
    "DerivationWalk",
    "Derived",
    "DerivedSessions",
    "PastSessionLookup",
    "session_start",
]

EVEN = 128
"""Entries, or marks, from one kept state to the next where any of them may be corrected."""
PastSessionLookup = Callable[[str], Sequence[PastSession]]
"""A dog's name -> what its earlier sessions left behind, oldest first."""


class Derived(Protocol):
    """What a live session goes by: the sessions, the entries and the findings of all so far."""

    @property
    def sessions(self) -> tuple[Session, ...]:
        """The sessions in order, the last perhaps under way."""

    @property
    def entries(self) -> Sequence[Entry]:
        """All entries in order of time."""

    @property
    def findings(self) -> tuple[Finding, ...]:
        """The findings, session by session."""


@dataclass(frozen=True, slots=True)
class DerivedSessions:
    """What follows: sessions with the intervals of their reps, entries as they take them, and
    findings; `seen` are the sessions in their variants, `started_at` the moment of the first
    sample."""

    sessions: tuple[Session, ...]
    entries: Sequence[Entry]
    findings: tuple[Finding, ...]
    seen: tuple[SessionVariants, ...]
    started_at: datetime | None


def session_start(started_at: datetime | None, session: Session) -> datetime | None:
    """When a session of a recording began, `started_at` being the moment of its first sample."""
    return started_at + timedelta(seconds=session.start_s) if started_at else None


class DerivationWalk:
    """Goes on from what it came to before, with the events that have come since.

    `past` is asked once for the earlier sessions of each dog that has one here, until `ask_anew`.
    With `live`, the rules that a session's end decides are not asked while it is under way. `memo`
    is that of `fold`, and `even` that of `KeptStates`.
    """

    def __init__(
        self,
        grammar: Grammar,
        past: PastSessionLookup,
        *,
        live: bool = False,
        memo: EntryMemo | None = None,
        even: int | None = None,
    ) -> None:
        self._past, self._live, self._even = past, live, even
        self._entries = EntriesWalk(grammar.interpret, memo)
        self._by_stranger = partial(begun_by_stranger, grammar)
        self._of: tuple[object, ...] = ()
        self._variants: VariantsWalk
        self._settings: Settings
        self._pasts: dict[str, Sequence[PastSession]] = {}
        self._sessions: dict[str, _SessionWalk] = {}
        self._wore: frozenset[str] = frozenset()

    def derived(
        self, recording: Recording, events: Iterable[Event], undecided: Sequence[Event] = ()
    ) -> DerivedSessions:
        """What follows from these events of the recording, and from those of an `undecided`
        utterance that nothing is kept of."""
        of = (recording.roster, recording.dog, recording.settings)
        if of != self._of:
            self._of, self._sessions = of, {}
            self._settings = stored_settings(recording.settings)
            self._variants = VariantsWalk(
                recording.roster,
                dog=recording.dog,
                temperature_unit=self._settings.temperature_unit,
                even=self._even,
                by_stranger=self._by_stranger,
            )
        heard = self._entries.entries(events)
        if undecided:
            heard = self._entries.with_undecided(undecided)
        started_at = self._entries.recording_start(recording.started_at)
        seen = self._variants.variants(heard, self._wore)
        if (wore := self._wore_before(seen, started_at)) != self._wore:
            self._wore = wore
            seen = self._variants.variants(heard, wore)
        walks = {one.with_doubtful.id: self._walk(one.with_doubtful) for one in seen}
        self._sessions = walks
        sessions = tuple(
            walks[one.with_doubtful.id].timed(one.with_doubtful, self._settings) for one in seen
        )
        return DerivedSessions(
            sessions=sessions,
            entries=self._variants.as_taken(heard, sessions),
            findings=self._found(seen, started_at),
            seen=seen,
            started_at=started_at,
        )

    def ask_anew(self, past: PastSessionLookup) -> None:
        """From now on `past` is asked for earlier sessions, which may be other ones."""
        self._past, self._pasts = past, {}

    def _walk(self, session: Session) -> _SessionWalk:
        return self._sessions.get(session.id) or _SessionWalk(self._even)

    def _wore_before(
        self, seen: Sequence[SessionVariants], started_at: datetime | None
    ) -> frozenset[str]:
        """The dogs whose profile has no collar and that wore one earlier on the day."""
        found = set()
        for variants in seen:
            session = variants.with_doubtful
            began, dog = session_start(started_at, session), session.dog
            if began is None or dog.has_collar or dog.name in found:
                continue
            worn = (one for trace in reversed(self._past_of(dog.name)) for one in trace.worn[::-1])
            last = next(worn, None)
            if last is not None and last.end.date() == began.date():
                found.add(dog.name)
        return frozenset(found)

    def _past_of(self, dog: str) -> Sequence[PastSession]:
        if dog not in self._pasts:
            self._pasts[dog] = self._past(dog)
        return self._pasts[dog]

    def _found(
        self, seen: tuple[SessionVariants, ...], started_at: datetime | None
    ) -> tuple[Finding, ...]:
        here: dict[str, list[PastSession]] = {}
        found: list[Finding] = []
        for variants in seen:
            session = variants.with_doubtful
            began = session_start(started_at, session)
            dog, walk = session.dog.name, self._sessions[session.id]
            own = here.setdefault(dog, [])
            is_last = variants is seen[-1]
            running = self._live and is_last and not self._variants.ended
            earlier = (tuple(self._past_of(dog)), tuple(own))
            found += walk.findings(variants, earlier, began, self._settings, running=running)
            if not is_last:
                own.append(walk.left_behind(began, variants))
        return tuple(found)


class _SessionWalk:
    """What is kept of one session."""

    def __init__(self, even: int | None) -> None:
        self._times = RepTimesWalk()
        self._rules = FindingsWalk(even=even)
        self._timed: tuple[object, Session] | None = None
        self._found: tuple[tuple[object, ...], tuple[Finding, ...]] | None = None
        self._history: tuple[tuple[object, ...], History] | None = None
        self._left: tuple[tuple[object, ...], PastSession] | None = None

    def timed(self, session: Session, settings: Settings) -> Session:
        if self._timed is None or self._timed[0] is not session:
            error_s = settings.for_dog(session.dog.name).narrator_s
            reps = self._times.timed(session.reps, error_s)
            self._timed = session, session.model_copy(update={"reps": reps})
        return self._timed[1]

    def findings(
        self,
        variants: SessionVariants,
        earlier: tuple[Sequence[PastSession], Sequence[PastSession]],
        began: datetime | None,
        settings: Settings,
        *,
        running: bool,
    ) -> tuple[Finding, ...]:
        before = (earlier, began)
        if self._history is None or self._history[0] != before:
            of_others, here = earlier
            self._history = before, history_after(of_others, began, here)
        history = self._history[1]
        session = variants.with_doubtful
        of = (session, variants.sure, variants.uncorrected, history, settings, running)
        if self._found is None or self._found[0] != of:
            found = self._rules.findings(
                variants.sure, session, variants.uncorrected, history, settings, running=running
            )
            self._found = of, found
        return self._found[1]

    def left_behind(self, began: datetime | None, variants: SessionVariants) -> PastSession:
        of = (began, variants.with_doubtful, variants.sure)
        if self._left is None or self._left[0] != of:
            left = past_session(began, variants.with_doubtful, doubtful=variants.doubtful)
            self._left = of, left
        return self._left[1]
