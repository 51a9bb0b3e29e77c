"""Which part of a recording belongs to which session, to the second.

A recording may tell of several dogs, and what is handed over or deleted must be all of one
session and nothing of the next. Every utterance has one owner: the session it fell in, or,
where it fell in none, the one before it. Between two utterances of different owners the
sound changes hands just before the later one, so that every moment has one owner too.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from itertools import pairwise

from voicelog.model import Event, FieldEvent, FrozenModel, Session, Utterance
from voicelog.store.event_log import about

__all__ = ["RecordingPart", "recording_part"]

_LEAD_S = 0.3
"""Sound before the first word that goes with it, at most."""
_END = 1e9
"""Later than any recording ends, s."""


class RecordingPart(FrozenModel):
    """Some sessions' part of a recording: ids of events, and stretches of sound (s)."""

    recording: str
    events: frozenset[str]
    stretches: tuple[tuple[float, float], ...]
    whole: bool
    """It is all of the recording."""

    @property
    def rest(self) -> tuple[tuple[float, float], ...]:
        """The stretches that are not in it."""
        rest, at = [], 0.0
        for start, end in self.stretches:
            if start > at:
                rest.append((at, start))
            at = end
        if at < _END:
            rest.append((at, _END))
        return tuple(rest)


def recording_part(
    recording: str,
    events: Sequence[Event],
    sessions: Sequence[Session],
    chosen: Collection[str],
) -> RecordingPart:
    """The part of a recording that belongs to the sessions `chosen` (ids).

    `sessions` are all of the recording's. Where all are chosen, it is the whole recording.
    """
    if all(session.id in chosen for session in sessions):
        ids = frozenset(event.id for event in events)
        return RecordingPart(recording=recording, events=ids, stretches=((0.0, _END),), whole=True)
    utterances = sorted(
        (event for event in events if isinstance(event, Utterance)),
        key=lambda one: (one.start_s, one.end_s, one.id),
    )
    owner = _owners(utterances, sessions)
    ours = {one.id for one in utterances if owner[one.id] in chosen}
    stretches = tuple(_stretches(utterances, owner, chosen))
    around = {
        event.id
        for event in events
        if isinstance(event, FieldEvent)
        and any(start <= event.at_s < end for start, end in stretches)
    }
    told = _about(events, ours) | around
    return RecordingPart(
        recording=recording, events=frozenset(told), stretches=stretches, whole=False
    )


def _owners(utterances: Sequence[Utterance], sessions: Sequence[Session]) -> dict[str, str]:
    owner = {entry: session.id for session in sessions for entry in session.entries}
    by_time = sorted(sessions, key=lambda session: session.start_s)
    for one in utterances:
        if one.id not in owner:
            before = [session for session in by_time if session.start_s <= one.start_s]
            owner[one.id] = (before or by_time[:1])[-1].id
    return owner


def _about(events: Sequence[Event], ours: Collection[str]) -> set[str]:
    """Ids of the events that are about these utterances, or about events that are."""
    found = set(ours)
    grown = True
    while grown:  # an action may aim at an action
        more = {event.id for event in events if about(event) in found} - found
        grown = bool(more)
        found |= more
    return found


def _stretches(
    utterances: Sequence[Utterance], owner: dict[str, str], chosen: Collection[str]
) -> Iterable[tuple[float, float]]:
    start: float | None = 0.0 if owner[utterances[0].id] in chosen else None
    for before, one in pairwise(utterances):
        mine = owner[one.id] in chosen
        if mine == (start is not None):
            continue
        gap = max(0.0, one.start_s - before.end_s)
        turn = one.start_s - min(_LEAD_S, gap / 2)
        if mine:
            start = turn
        elif start is not None:
            yield start, turn
            start = None
    if start is not None:
        yield start, _END
