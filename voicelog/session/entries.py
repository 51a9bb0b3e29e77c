"""Fold events into entries: an utterance with its current reading.

The current reading is a person's newest, else the verdict's. A later verdict never
overrules a person. Undo takes an event back; what it had done is then as if never said. An
utterance can be taken back only when a person put it in: what was heard stays. One whose
verdict says that the sound was later heard as other utterances makes way for those.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from voicelog.model import Action, Entry, Event, Phrase, Reading, Utterance, Verdict
from voicelog.model.grown import Grown
from voicelog.model.phrases import EditPhrase

__all__ = [
    "EntriesWalk",
    "EntryMemo",
    "Interpret",
    "fold",
    "is_strike",
    "recording_start",
    "undone_events",
]

Interpret = Callable[[str], tuple[Phrase, ...] | None]
"""Words to phrases, or None when they are not of the grammar: `Grammar.interpret`."""


@dataclass(slots=True)
class _UtteranceEvents:
    """All that is known of one utterance."""

    utterance: Utterance
    heard: str = ""
    verdict: Verdict | None = None
    readings: list[Reading] = field(default_factory=list)
    actions: list[Action] = field(default_factory=list)
    was_heard: bool = False

    @property
    def confirmed(self) -> Action | None:
        """The newest confirmation by a person: the verdict that it saw stands."""
        return next((a for a in reversed(self.actions) if a.action == "confirm"), None)

    @property
    def replaced(self) -> bool:
        """Others stand for it, and no person has read it."""
        unread = not self.readings and self.confirmed is None
        return unread and self.verdict is not None and bool(self.verdict.replaced_by)

    def take_reading(self, event: Reading) -> None:
        """A person read it, or a listener heard it; of what was heard, the first words stand."""
        if event.by == "person":
            self.readings.append(event)
            return
        self.was_heard = True
        self.heard = self.heard or event.words

    def take_verdict(self, event: Verdict) -> None:
        """It was judged; what a person has confirmed stays as it was judged before."""
        self.was_heard = True
        if self.verdict is None or self.confirmed is None:
            self.verdict = event

    def take_action(self, event: Action) -> None:
        """Something was done to it."""
        self.actions.append(event)


EntryMemo = dict[str, tuple[tuple[object, ...], Entry]]
"""The entries that a fold came to, by id, each with all that it rests on. It is good for one
recording and one grammar; who folds again after a change gives it, and only what the change is
about is made anew."""


def fold(
    events: Iterable[Event], interpret: Interpret, memo: EntryMemo | None = None
) -> tuple[Entry, ...]:
    """Entries in order of their start, of one moment those that a person added last; events in
    the order in which they were committed.

    `interpret` gives the phrases of words, None where they are no note. `memo` is read and
    brought up to date; it changes nothing in what comes out.

    Events about an utterance that is not among them are left alone: they belong to another
    recording, or their utterance was deleted.
    """
    return tuple(EntriesWalk(interpret, memo).entries(events))


class EntriesWalk:
    """Folds events into entries, each time there are more of them; `fold` is this asked once.

    A log only grows: where the last event that was known stands in its place, so do all before it.

    `interpret` gives the phrases of words, `memo` is that of `fold`. An entry that nothing new was
    said of is the same object each time.
    """

    def __init__(self, interpret: Interpret, memo: EntryMemo | None = None) -> None:
        self._interpret = interpret
        self._memo: EntryMemo = {} if memo is None else memo
        self._known = 0
        self._last: Event | None = None
        self._given: Grown[Entry] = Grown()
        self._first_changed = 0
        self._struck_anew = False
        self._begin(())

    def entries(self, events: Iterable[Event]) -> Grown[Entry]:
        """The entries of these events, as `fold` has them."""
        events = events if isinstance(events, Sequence) else tuple(events)
        goes_on = len(events) >= self._known and (
            self._known == 0 or events[self._known - 1] is self._last
        )
        new = tuple(events[self._known :])
        if not goes_on or not self._may_follow(new):
            new = tuple(events)
            self._begin(new)
        self._known, self._last = len(events), events[-1] if events else None
        for name in self._take(new):
            self._renew(name)
        if self._struck_anew:
            self._strike()
        first = min(self._first_changed, len(self._given))
        self._given = self._given.then(first, self._entries[first:])
        self._first_changed = len(self._entries)
        return self._given

    def with_undecided(self, events: Sequence[Event]) -> Grown[Entry]:
        """The entries that came last, and the one of an utterance of which these are all the
        events: its readings and a verdict that is not sure. Nothing of it is kept."""
        (utterance,) = (event for event in events if isinstance(event, Utterance))
        case = _UtteranceEvents(utterance)
        for event in events:
            match event:
                case Reading():
                    case.take_reading(event)
                case Verdict():
                    case.take_verdict(event)
                case _:
                    pass
        entry = _new_entry(case, {}, self._interpret)
        at = bisect_left(self._order, (entry.start_s, entry.end_s, False, entry.id))
        return self._given.then(at, (entry, *self._entries[at:]))

    def recording_start(self, known: datetime | None) -> datetime | None:
        """The moment of the first sample, as the function of that name has it."""
        return datetime.fromisoformat(self._clock) if self._clock else known

    def _begin(self, events: tuple[Event, ...]) -> None:
        self._undone = undone_events(events)
        self._cases: dict[str, _UtteranceEvents] = {}
        self._aims: dict[str, str] = {}
        self._strays: set[str] = set()
        self._places: dict[str, _Place] = {}
        self._order: list[_Place] = []
        self._read: list[Entry] = []
        self._entries: list[Entry] = []
        self._given, self._first_changed = Grown(), 0
        self._strikes: dict[str, Entry] = {}
        self._voided: frozenset[str] = frozenset()
        self._clock: str | None = None

    def _may_follow(self, new: Sequence[Event]) -> bool:
        """Whether these change only what they are about: none takes an event back, and none is the
        utterance of events that came before it."""
        for event in new:
            if isinstance(event, Action) and event.action == "undo":
                return False
            if isinstance(event, Utterance) and event.id in self._strays:
                return False
        return True

    def _take(self, new: Sequence[Event]) -> dict[str, None]:
        """What the events say, to the utterances that they are about; which those are."""
        touched: dict[str, None] = {}
        for event in new:
            if isinstance(event, Utterance):
                self._cases.setdefault(event.id, _UtteranceEvents(event))
                touched[event.id] = None
        for event in new:
            if event.id in self._undone:
                continue
            match event:
                case Reading() if (case := self._case(event.utterance)) is not None:
                    case.take_reading(event)
                    touched[event.utterance] = None
                case Verdict() if (case := self._case(event.utterance)) is not None:
                    case.take_verdict(event)
                    touched[event.utterance] = None
                case Action():
                    if event.action == "clock":
                        self._clock = event.value
                    if (case := self._case(event.target)) is not None:
                        case.take_action(event)
                        touched[event.target] = None
                    if event.cause is not None:
                        self._aims[event.cause] = event.value or event.target
                        touched[event.cause] = None
                case _:
                    pass
        return touched

    def _case(self, utterance: str) -> _UtteranceEvents | None:
        case = self._cases.get(utterance)
        if case is None:
            self._strays.add(utterance)
        return case

    def _renew(self, name: str) -> None:
        """Read an utterance anew, and put its entry in its place."""
        case = self._cases.get(name)
        if (before := self._places.pop(name, None)) is not None:
            at = bisect_left(self._order, before)
            del self._order[at], self._read[at], self._entries[at]
            self._first_changed = min(self._first_changed, at)
        self._struck_anew |= self._strikes.pop(name, None) is not None
        if case is None or case.replaced or not (case.was_heard or name not in self._undone):
            return
        entry = _entry(case, self._aims, self._interpret, self._memo)
        place = (entry.start_s, entry.end_s, not case.was_heard, name)
        at = bisect_left(self._order, place)
        self._places[name] = place
        self._order.insert(at, place)
        self._read.insert(at, entry)
        self._entries.insert(at, _voided(entry) if name in self._voided else entry)
        self._first_changed = min(self._first_changed, at)
        if (
            entry.status == "accepted"
            and entry.target not in (None, name)
            and any(map(is_strike, entry.phrases))
        ):
            self._strikes[name] = entry
            self._struck_anew = True

    def _strike(self) -> None:
        """Void what a spoken "strike that" aims at, unless that strike is itself void.

        The newest strike is settled first, so that striking a strike brings the first back. A
        strike that aims at the words before it in its own breath leaves the rest of them.
        """
        self._struck_anew = False
        voided: set[str] = set()
        for place in sorted((self._places[name] for name in self._strikes), reverse=True):
            strike = self._strikes[place[-1]]
            if strike.target is not None and not strike.voided and strike.id not in voided:
                voided.add(strike.target)
        for name in self._voided ^ voided:
            if (there := self._places.get(name)) is not None:
                at = bisect_left(self._order, there)
                entry = self._read[at]
                self._first_changed = min(self._first_changed, at)
                self._entries[at] = _voided(entry) if name in voided else entry
        self._voided = frozenset(voided)


_Place = tuple[float, float, bool, str]
"""An entry's place in order of time: start and end (s), whether a person added it, its id."""


def _voided(entry: Entry) -> Entry:
    return entry if entry.voided else entry.model_copy(update={"voided": True})


def recording_start(events: Iterable[Event], known: datetime | None) -> datetime | None:
    """The moment of a recording's first sample: as a person last set it, else as `known`. `events`
    are those of the recording."""
    kept = tuple(events)
    undone = undone_events(kept)
    set_to = (
        event.value
        for event in reversed(kept)
        if isinstance(event, Action) and event.action == "clock" and event.id not in undone
    )
    value = next(set_to, None)
    return datetime.fromisoformat(value) if value else known


def undone_events(events: tuple[Event, ...]) -> frozenset[str]:
    """Ids of events taken back; an undo that is itself undone takes nothing back."""
    undone: set[str] = set()
    for event in reversed(events):
        if event.event == "action" and event.action == "undo" and event.id not in undone:
            undone.add(event.target)
    return frozenset(undone)


def is_strike(phrase: Phrase) -> bool:
    """Whether a phrase is "strike that"."""
    return isinstance(phrase, EditPhrase) and phrase.do == "strike"


def _entry(
    case: _UtteranceEvents, aims: dict[str, str], interpret: Interpret, memo: EntryMemo
) -> Entry:
    name = case.utterance.id
    rests_on = (
        case.utterance, case.heard, case.verdict, *case.readings[-1:], *case.actions,
        aims.get(name),
    )  # fmt: skip
    known = memo.get(name)
    if known is None or known[0] != rests_on:
        known = memo[name] = rests_on, _new_entry(case, aims, interpret)
    return known[1]


def _new_entry(case: _UtteranceEvents, aims: dict[str, str], interpret: Interpret) -> Entry:
    utterance, verdict = case.utterance, case.verdict
    person = case.readings[-1] if case.readings else None
    confirmed = case.confirmed
    words = person.words if person else verdict.words if verdict else ""
    if person is None and confirmed is not None and confirmed.value is not None:
        words = confirmed.value
    status = "accepted" if person or confirmed else verdict.status if verdict else "rejected"
    phrases = interpret(words) or ()
    read_by = person or confirmed
    return Entry(
        id=utterance.id,
        recording=utterance.recording,
        start_s=utterance.start_s,
        end_s=utterance.end_s,
        heard=case.heard,
        reading=words,
        status=status,
        confidence=1.0 if read_by else verdict.confidence if verdict else 0.0,
        alternatives=verdict.alternatives if verdict else (),
        phrases=phrases,
        stranger=verdict.stranger if verdict and not read_by else "",
        by="person" if read_by else "listener",
        who=read_by.who if read_by else "",
        voided=any(a.action == "void" and a.cause is None for a in case.actions),
        target=aims.get(utterance.id),
        not_known=tuple(
            a.value for a in case.actions if a.action == "amend" and a.cause is None and a.value
        ),
        dog=next((a.value for a in reversed(case.actions) if a.action == "move"), None),
    )
