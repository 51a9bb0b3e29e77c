"""Fold events into entries: an utterance with its current reading.

The current reading is a person's newest, else the verdict's. A later verdict never
overrules a person. Undo takes an event back; what it had done is then as if never said. An
utterance can be taken back only when a person put it in: what was heard stays. One whose
verdict says that the sound was later heard as other utterances makes way for those.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import datetime

from voicelog.model import Action, Entry, Event, Phrase, Reading, Utterance, Verdict
from voicelog.model.phrases import EditPhrase

__all__ = ["EntryMemo", "Interpret", "fold", "is_strike", "recording_start", "undone_events"]

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
    kept = tuple(events)
    undone = undone_events(kept)
    cases: dict[str, _UtteranceEvents] = {}
    for event in kept:
        if isinstance(event, Utterance):
            cases.setdefault(event.id, _UtteranceEvents(event))
    for event in kept:
        if event.id in undone:
            continue
        match event:
            case Reading() if (case := cases.get(event.utterance)) is not None:
                case.take_reading(event)
            case Verdict() if (case := cases.get(event.utterance)) is not None:
                case.take_verdict(event)
            case Action() if (case := cases.get(event.target)) is not None:
                case.take_action(event)
            case _:
                pass
    aims = _aims(kept, undone)
    entries = [
        _entry(case, aims, interpret, {} if memo is None else memo)
        for case in cases.values()
        if (case.was_heard or case.utterance.id not in undone) and not case.replaced
    ]
    added = {name for name, case in cases.items() if not case.was_heard}
    entries.sort(key=lambda one: (one.start_s, one.end_s, one.id in added, one.id))
    return _with_spoken_edits(entries)


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
        if isinstance(event, Action) and event.action == "undo" and event.id not in undone:
            undone.add(event.target)
    return frozenset(undone)


def is_strike(phrase: Phrase) -> bool:
    """Whether a phrase is "strike that"."""
    return isinstance(phrase, EditPhrase) and phrase.do == "strike"


def _aims(events: tuple[Event, ...], undone: frozenset[str]) -> dict[str, str]:
    """What each spoken edit aims at, by the utterance that spoke it."""
    return {
        event.cause: event.value or event.target
        for event in events
        if isinstance(event, Action) and event.cause is not None and event.id not in undone
    }


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
        by="person" if read_by else "listener",
        who=read_by.who if read_by else "",
        voided=any(a.action == "void" and a.cause is None for a in case.actions),
        target=aims.get(utterance.id),
        dog=next((a.value for a in reversed(case.actions) if a.action == "move"), None),
    )


def _with_spoken_edits(entries: list[Entry]) -> tuple[Entry, ...]:
    """Void what a spoken "strike that" aims at, unless that strike is itself void.

    The newest strike is settled first, so that striking a strike brings the first back. A
    strike that aims at the words before it in its own breath leaves the rest of them.
    """
    voided = {entry.id for entry in entries if entry.voided}
    for entry in reversed(entries):
        strikes = entry.status == "accepted" and any(map(is_strike, entry.phrases))
        if strikes and entry.target not in (None, entry.id) and entry.id not in voided:
            voided.add(entry.target)
    return tuple(
        entry if entry.id not in voided else entry.model_copy(update={"voided": True})
        for entry in entries
    )
