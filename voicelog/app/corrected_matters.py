"""What became of matters that a person's reading took away: they are not silently gone.

What a person strikes or reads otherwise is a correction of the record, and may be right; but a
growl that was in the log yesterday and is not there today must say by whom it went. So a recording
is derived once more for each earlier state of its entries, and what followed then and follows no
more is told as corrected.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence

from voicelog.model import (
    Action,
    Event,
    MatterCorrection,
    Reading,
    SessionMatter,
    Verdict,
)
from voicelog.model.matters import COVERED_BY_CLOSING
from voicelog.model.names import name_key
from voicelog.session.entries import undone_events
from voicelog.store.event_log import about

__all__ = ["MOST_STATES", "earlier_states", "read_anew", "strikes"]

MOST_STATES = 8
"""Earlier states of an entry that are looked at: more corrections of one entry than that are play,
and each costs a derivation."""


def earlier_states(events: Sequence[Event]) -> list[tuple[Event, ...]]:
    """The events as they were before people corrected them: first without any correction, then
    with the first of each entry, the first two, and so on, at most `MOST_STATES`; and, where the
    sound was heard again, as it was heard first.

    What a person put in, or typed for what had no reading yet, is no correction.
    """
    corrections = _corrections(events)
    most = max(Counter(corrections.values()).values(), default=0)
    found = [tuple(_first_heard(events, corrections))] if _heard_again(events) else []
    found += [tuple(_first(events, corrections, many)) for many in range(min(most, MOST_STATES))]
    return found


def _heard_again(events: Sequence[Event]) -> bool:
    verdicts = [event for event in events if event.event == "verdict"]
    more = len({one.utterance for one in verdicts}) < len(verdicts)
    return more or any(one.replaced_by for one in verdicts)


def _first_heard(events: Sequence[Event], corrections: Mapping[str, str]) -> Iterable[Event]:
    """Without corrections, with the first verdict of each utterance, and without utterances that
    stand for others since."""
    verdicts = [event for event in events if isinstance(event, Verdict)]
    later = {name for one in verdicts for name in one.replaced_by}
    judged: set[str] = set()
    for event in events:
        if event.id in corrections or event.id in later or about(event) in later:
            continue
        if isinstance(event, Verdict):
            if event.utterance in judged:
                continue
            judged.add(event.utterance)
        yield event


def _stands_for(events: Sequence[Event]) -> dict[str, set[str]]:
    """By an utterance, those that stand for it since the sound was heard again."""
    found: dict[str, set[str]] = {}
    for event in events:
        if event.event == "verdict" and event.replaced_by:
            found.setdefault(event.utterance, set()).update(event.replaced_by)
    return found


def _first(events: Sequence[Event], of: Mapping[str, str], many: int) -> Iterable[Event]:
    seen: Counter[str] = Counter()
    for event in events:
        utterance = of.get(event.id)
        if utterance is not None:
            seen[utterance] += 1
            if seen[utterance] > many:
                continue
        yield event


def read_anew(
    now: Sequence[SessionMatter], earlier: Iterable[SessionMatter], events: Sequence[Event]
) -> tuple[SessionMatter, ...]:
    """The matters of earlier states of which something follows no more, each once.

    A matter is known by dog, kind and entries; one of a graver kind has those of the lesser.
    """
    known = {
        (name_key(one.dog), kind, entry)
        for one in now
        for kind in COVERED_BY_CLOSING[one.kind]
        for entry in one.entries
    }
    by, instead = _corrections(events), _stands_for(events)
    gone: list[SessionMatter] = []
    for one in earlier:
        dog = name_key(one.dog)
        lost = tuple(
            entry
            for entry in one.entries
            if not any((dog, one.kind, name) in known for name in (entry, *instead.get(entry, ())))
        )
        if not one.stands or not lost or len(lost) < len(one.entries):
            continue
        known |= {
            (name_key(one.dog), kind, entry)
            for kind in COVERED_BY_CLOSING[one.kind]
            for entry in lost
        }
        correction = _by_whom(events, by, lost)
        gone.append(one.model_copy(update={"correction": correction}))
    return tuple(gone)


def strikes(events: Sequence[Event]) -> dict[str, MatterCorrection]:
    """Who struck an entry last, by its id: on the page, or by voice."""
    undone = undone_events(tuple(events))
    found: dict[str, MatterCorrection] = {}
    for event in events:
        if event.event != "action" or event.id in undone:
            continue
        spoken = event.action == "amend" and event.cause is not None
        if event.action == "void" or spoken:
            how = "struck" if _typed(event) else "by voice"
            found[event.target] = MatterCorrection.model_validate(
                {"how": how, "who": event.who, "at": event.at}
            )
    return found


def _by_whom(
    events: Sequence[Event], corrections: Mapping[str, str], entries: Sequence[str]
) -> MatterCorrection:
    """The newest correction of these entries, or of any where what was corrected lies elsewhere;
    where the sound was heard again and nobody read these, that took it away."""
    undone = undone_events(tuple(events))
    of_these: Reading | Action | None = None
    any_: Reading | Action | None = None
    for event in events:
        if event.id in corrections and isinstance(event, Reading | Action):
            any_ = event
            if corrections[event.id] in entries and event.id not in undone:
                of_these = event
    last = of_these or (None if _heard_again(events) else any_)
    if last is None:
        return MatterCorrection(how="heard again")
    return MatterCorrection(how="read anew", who=last.who, at=last.at)


def _corrections(events: Sequence[Event]) -> dict[str, str]:
    """The events with which people changed what was there, each with the entry it changed."""
    read: set[str] = set()
    found: dict[str, str] = {}
    for event in events:
        if event.event == "verdict":
            read.add(event.utterance)
        elif event.event == "reading":
            if event.by == "person":
                if event.utterance in read:
                    found[event.id] = event.utterance
                read.add(event.utterance)
        elif event.event == "action" and _typed(event) and event.action != "clock":
            found[event.id] = found.get(event.target, event.target)
    return found


def _typed(event: Action) -> bool:
    """Whether it was done on the page: what is said in the field has no time of its own."""
    return event.by == "person" and event.at is not None and event.cause is None
