"""Which hearing of a sound is shown, where it was heard more than once.

Two hearings of one sound, on two devices or with other listeners, are never mixed: a rep that both
heard would stand twice. One is shown, the first that a person has read, else the first. One that
goes on from another (the sound was heard again on purpose) stands for it, as long as no person has
read meanwhile what it replaces.

What people did counts wherever it was done: where a person read something in a hearing that is
not shown, that note is shown as it was read, in place of what the shown one heard of the same
sound. Where two people read the same sound in two hearings, what was done last counts, and both
are told.

Pure: the same hearings and events give the same choice on every device, in whatever order they
came.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from voicelog.model import Action, Event, Reading, Utterance, Verdict
from voicelog.session.entries import undone_events

__all__ = ["Choice", "Hearing", "KeyedEvent", "choose", "made_by_machine"]

_SAME_SOUND = 0.5
"""Two notes are of the same sound where they have this share of the shorter one in common."""
_LAST = "~"
"""Sorts after every time of commit."""


@dataclass(frozen=True, slots=True)
class KeyedEvent:
    """An event, the id of its row here, its item's id, and when it was committed."""

    key: str
    item: str
    at: str
    event: Event


@dataclass(frozen=True)
class Hearing:
    """A recording as one device heard it: all events of it that a machine made by then. `root` and
    `depth` are its place in its line, see `voicelog.store.share.items.HearingItem`."""

    id: str
    root: str
    depth: int
    events: tuple[KeyedEvent, ...]


@dataclass(frozen=True, slots=True)
class Choice:
    """What is shown: the hearing, the keys of the events that are not, and the utterances that two
    people read in two hearings, as pairs of plain ids, the one that counts first."""

    shown: str
    hidden: frozenset[str]
    contested: tuple[tuple[str, str], ...]


class _HearingView:
    """A hearing, by its utterances."""

    def __init__(self, hearing: Hearing) -> None:
        self.hearing = hearing
        self.events = {one.key: one for one in hearing.events}

    @cached_property
    def utterances(self) -> dict[str, KeyedEvent]:
        """By their ids, those that are not replaced in it."""
        ordered = sorted(self.events.values(), key=lambda one: (one.at, one.item))
        last = {one.event.utterance: one.event for one in ordered if isinstance(one.event, Verdict)}
        gone = {name for name, verdict in last.items() if verdict.replaced_by}
        return {
            one.event.id: one
            for one in ordered
            if isinstance(one.event, Utterance) and one.event.id not in gone
        }

    @cached_property
    def units(self) -> dict[str, set[str]]:
        """By utterance, the keys of all that was heard of it."""
        found: dict[str, set[str]] = {}
        for one in self.events.values():
            match one.event:
                case Utterance():
                    found.setdefault(one.event.id, set()).add(one.key)
                case Reading() | Verdict():
                    found.setdefault(one.event.utterance, set()).add(one.key)
                case Action(cause=str() as cause):
                    found.setdefault(cause, set()).add(one.key)
                case _:
                    pass
        return found


def made_by_machine(event: Event, heard: Iterable[str]) -> bool:
    """Whether an event belongs to a hearing; `heard` are the utterances that a machine judged."""
    match event:
        case Utterance():
            return event.id in heard
        case Reading():
            return event.by == "listener"
        case Verdict():
            return True
        case Action():
            return event.by == "listener"
        case _:
            return False


def choose(hearings: Sequence[Hearing], people: Sequence[KeyedEvent]) -> Choice:
    """What is shown of a sound. `hearings` are all of it, at least one; `people` is what people
    did, in any order."""
    lines = [_HearingView(one) for one in hearings]
    acts = _acts(people)
    best = min(lines, key=lambda line: _rank(line, acts, len(people)))
    visible = set(best.events)
    shown_utterances = best.utterances
    contested: list[tuple[str, str]] = []
    others: dict[str, _HearingView] = {}
    for line in sorted(lines, key=lambda line: _rank(line, acts, len(people))):
        for name in line.utterances:
            if name in acts and name not in shown_utterances:
                others.setdefault(name, line)
    standing = dict(shown_utterances)
    for name in sorted(others, key=lambda one: (acts[one][0], one)):
        line = others[name]
        own = line.utterances[name]
        rivals = [other for other, there in standing.items() if _alike(own, there)]
        strong = [other for other in rivals if other in acts]
        if strong and max(acts[other][-1] for other in strong) > acts[name][-1]:
            contested += [(max(strong, key=lambda other: acts[other][-1]), name)]
            continue
        contested += [(name, other) for other in strong]
        for other in rivals:
            holder = others.get(other, best)
            visible -= holder.units.get(other, set())
            del standing[other]
        visible |= line.units.get(name, set())
        standing[name] = own
    every = {key for line in lines for key in line.events}
    return Choice(best.hearing.id, frozenset(every - visible), tuple(contested))


def _acts(people: Sequence[KeyedEvent]) -> dict[str, list[tuple[str, str]]]:
    """When people read or did something, by utterance, each as a time and an item, in order."""
    ordered = tuple(sorted(people, key=lambda one: (one.at, one.item)))
    undone = undone_events(tuple(one.event for one in ordered))
    found: dict[str, list[tuple[str, str]]] = {}
    for one in ordered:
        match one.event:
            case Reading(utterance=name) if one.event.id not in undone:
                found.setdefault(name, []).append((one.at, one.item))
            case Action(action=what, target=name) if (
                what not in ("undo", "clock") and one.event.id not in undone
            ):
                found.setdefault(name, []).append((one.at, one.item))
            case _:
                pass
    return found


def _rank(
    line: _HearingView, acts: Mapping[str, list[tuple[str, str]]], most: int
) -> tuple[object, ...]:
    """What sorts the hearing to show first: read by a person earliest, then heard first, then
    heard again latest."""
    read = sorted(one for name in line.utterances for one in acts.get(name, ()))
    first = min((one.at for one in line.hearing.events), default=_LAST)
    last = max((one.at for one in line.hearing.events), default=_LAST)
    missing = [(_LAST, "")] * (most + 1 - len(read))
    hearing = line.hearing
    return [*read, *missing], first, hearing.root, -hearing.depth, last, hearing.id


def _alike(one: KeyedEvent, other: KeyedEvent) -> bool:
    """Whether two utterances are of the same sound."""
    a, b = one.event, other.event
    assert isinstance(a, Utterance)  # as `utterances` holds
    assert isinstance(b, Utterance)
    common = min(a.end_s, b.end_s) - max(a.start_s, b.start_s)
    shorter = min(a.end_s - a.start_s, b.end_s - b.start_s)
    return common > 0 and common >= _SAME_SOUND * shorter
