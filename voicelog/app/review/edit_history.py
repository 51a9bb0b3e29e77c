"""What a person does at the page, as events; and what was done, so that it can be undone.

Nothing is ever overwritten: a correction is one more reading, an undo one more action. So two
people's work is all there, and every entry's history can be told.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from hashlib import sha256
from typing import Literal
from uuid import uuid4

from pydantic import Field

from voicelog.model import Action, Entry, Event, FrozenModel, Reading, Utterance, Verdict
from voicelog.report.state_words import status_word
from voicelog.report.words import clean, clock, day
from voicelog.session.entries import undone_events

__all__ = ["Do", "EditHistory", "EditRequest", "PastEdit", "history", "ledger", "new_id", "version"]

Do = Literal["confirm", "read", "void", "restore", "move", "add", "clock", "dog", "undo", "redo"]


class EditRequest(FrozenModel):
    """A request to change something, with what the person saw when deciding on it.

    `version` is that of the entry (`version`), for "clock" and "dog" what the session showed,
    for "undo" and "redo" the id of the event they aim at.
    """

    do: Do
    version: str = Field(max_length=80)
    entry: str | None = Field(default=None, max_length=200)
    words: str | None = Field(default=None, max_length=400)
    at_s: float | None = Field(default=None, ge=0, le=1e6)
    dog: str | None = Field(default=None, max_length=80)
    moment: str | None = Field(default=None, max_length=40)


class PastEdit(FrozenModel):
    """Something that a person did, told in words; `id` is the event to aim an undo at."""

    id: str
    entry: str
    told: str


class EditHistory(FrozenModel):
    """What was done to a recording: the next to undo, and to redo; entries touched today."""

    undo: PastEdit | None
    redo: PastEdit | None
    touched: Mapping[str, datetime | None]
    """Entries that a person has read, confirmed, moved or voided, and when last."""


def version(entry: Entry) -> str:
    """What tells whether an entry is still as somebody saw it."""
    seen = (entry.status, entry.voided, entry.by, entry.reading, entry.dog, entry.alternatives)
    return sha256(repr(seen).encode()).hexdigest()[:20]


def new_id(kind: str) -> str:
    """An id that no other event has."""
    return f"{kind}-{uuid4().hex}"


def ledger(events: Sequence[Event]) -> EditHistory:
    """What people did to a recording's entries, from its events in the order of commit."""
    undone = undone_events(tuple(events))
    heard = {e.utterance for e in events if isinstance(e, Verdict)}
    heard |= {e.utterance for e in events if isinstance(e, Reading) and e.by == "listener"}
    starts = {e.id: e.start_s for e in events if isinstance(e, Utterance)}
    acts: dict[str, PastEdit] = {}
    done: list[PastEdit] = []
    redoable: list[tuple[str, PastEdit]] = []
    touched: dict[str, datetime | None] = {}
    for event in events:
        act = _act(event, starts, heard)
        if act is not None:
            acts[event.id] = act
        if event.id in undone:
            continue
        if act is not None:
            done.append(act)
            redoable.clear()
            touched[act.entry] = getattr(event, "at", None)
        elif isinstance(event, Action) and event.action == "undo" and event.target in acts:
            redoable.append((event.id, acts[event.target]))
    redo = redoable[-1] if redoable else None
    return EditHistory(
        undo=done[-1] if done else None,
        redo=redo[1].model_copy(update={"id": redo[0]}) if redo else None,
        touched=touched,
    )


def _act(event: Event, starts: Mapping[str, float], heard: set[str]) -> PastEdit | None:
    """The act that an event is, or None where no person did it or it goes with another."""
    if isinstance(event, Utterance) and event.id not in heard:
        return PastEdit(id=event.id, entry=event.id, told=f"add an entry at {clock(event.start_s)}")
    if isinstance(event, Reading) and event.by == "person":
        if event.id == f"{event.utterance}.r":
            return None  # goes with the utterance that was added
        at = clock(starts.get(event.utterance, 0.0))
        return PastEdit(
            id=event.id, entry=event.utterance, told=f"read {at} as '{clean(event.words)}'"
        )
    if isinstance(event, Action) and event.by == "person" and event.action != "undo":
        at = clock(starts.get(event.target, 0.0))
        return PastEdit(
            id=event.id,
            entry=event.target,
            told=_ACTS[event.action].format(at=at, value=clean(event.value or "")),
        )
    return None


_ACTS: Mapping[str, str] = {
    "confirm": "confirm {at} as '{value}'",
    "void": "void {at}",
    "move": "move {at} to {value}",
    "amend": "amend {at}",
    "flag": "flag {at}",
    "clock": "set the start to {value}",
}


def history(entry: str, events: Sequence[Event]) -> tuple[str, ...]:
    """All that happened to an entry, a line each, in the order of commit."""
    undone = undone_events(tuple(events))
    about: set[str] = {entry}
    lines = []
    for event in events:
        line = _told(event, entry, about)
        if line is None:
            continue
        about.add(event.id)
        taken = " (taken back)" if event.id in undone else ""
        lines.append(f"{line}{taken}")
    return tuple(lines)


def _told(event: Event, entry: str, about: set[str]) -> str | None:
    match event:
        case Utterance() if event.id == entry:
            return f"Sound from {event.start_s:.1f} s to {event.end_s:.1f} s."
        case Reading() if event.utterance == entry and event.by == "listener":
            sure = f", {event.confidence:.0%} sure"
            return f"{clean(event.who)} heard '{clean(event.words)}'{sure}."
        case Reading() if event.utterance == entry:
            return f"{_who(event)} read it as '{clean(event.words)}'."
        case Verdict() if event.utterance == entry:
            also = f", or {', '.join(event.alternatives)}" if event.alternatives else ""
            return f"Marked {status_word(event.status)}: '{clean(event.words)}'{clean(also)}."
        case Action() if event.target in about and event.cause is not None:
            return f"A spoken {'strike' if event.action == 'void' else event.action} aimed at it."
        case Action() if event.target in about and event.action == "undo":
            return f"{_who(event)} took a step back."
        case Action() if event.target == entry:
            value = f" '{clean(event.value)}'" if event.value else ""
            return f"{_who(event)}: {event.action}{value}."
        case _:
            return None


def _who(event: Reading | Action) -> str:
    when = f", {day(event.at)}" if event.at else ""
    return f"{clean(event.who) or 'somebody'}{when}"
