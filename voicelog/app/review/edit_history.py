"""What a person does on the page, as events; and what was done, so that it can be undone.

Nothing is ever overwritten: a correction is one more reading, an undo one more action. So two
people's work is all there, and every entry's history can be told.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from hashlib import sha256
from uuid import uuid4

from pydantic import Field

from voicelog.model import Action, Entry, Event, FrozenModel, Reading, Utterance, Verdict
from voicelog.model.review import Do
from voicelog.report.review_words import edit_words, event_words, step_words
from voicelog.report.words import clock_if_timed
from voicelog.session.entries import undone_events

__all__ = [
    "EditHistory",
    "EditRequest",
    "PastEdit",
    "history",
    "ledger",
    "new_id",
    "new_step",
    "step_ids",
    "version",
]


class EditRequest(FrozenModel):
    """A request to change something, with what the person saw when deciding on it.

    `version` is that of the entry (`version`), for "answer" that of the question, for "clock" and
    "dog" what the session showed, for "undo" and "redo" the id of the event they aim at.
    """

    do: Do
    version: str = Field(max_length=80)
    entry: str | None = Field(default=None, max_length=200)
    rep: str | None = Field(default=None, max_length=200)
    """The id of the rep that a question is about."""
    words: str | None = Field(default=None, max_length=400)
    at_s: float | None = Field(default=None, ge=0, le=1e6)
    until_s: float | None = Field(default=None, ge=0, le=1e6)
    """When what is added ended, s in the recording; None: a second after it began."""
    dog: str | None = Field(default=None, max_length=80)
    moment: str | None = Field(default=None, max_length=40)
    above_top: bool = False
    """For "read" and "add": a level above the top of the dog's collar is meant."""


class PastEdit(FrozenModel):
    """Something that a person did, told in words; `id` is the event to aim an undo at, `also` are
    those that were done with it in one step."""

    id: str
    entry: str
    told: str
    also: tuple[str, ...] = ()


class EditHistory(FrozenModel):
    """What was done to a recording: the next to undo, and to redo; entries touched today."""

    undo: PastEdit | None
    redo: PastEdit | None
    last_of: Mapping[str, PastEdit]
    """What was done last to each entry and is not undone; not what set the start."""
    touched: Mapping[str, datetime | None]
    """Entries that a person has read, confirmed, moved or voided, and when last."""

    def to_undo(self, entry: str | None) -> PastEdit | None:
        """The next to undo: of the entry of that id, or of the whole recording."""
        return self.undo if entry is None else self.last_of.get(entry)


def version(entry: Entry) -> str:
    """What tells whether an entry is still as somebody saw it."""
    seen = (entry.status, entry.voided, entry.by, entry.reading, entry.dog, entry.alternatives)
    return sha256(repr(seen).encode()).hexdigest()[:20]


def new_id(kind: str) -> str:
    """An id that no other event has. `kind` is its first part."""
    return f"{kind}-{uuid4().hex}"


def new_step() -> str:
    """What begins the ids of events that are one step, undone together; no other step has it."""
    return f"step-{uuid4().hex}"


def step_ids(kind: str, count: int) -> tuple[str, ...]:
    """Ids for so many new events that are one step; one alone gets that of `new_id(kind)`."""
    if count == 1:
        return (new_id(kind),)
    step = new_step()
    return tuple(f"{step}-{number}" for number in range(count))


def _same_step(one: str, other: str) -> bool:
    step = one.rpartition("-")[0]
    return step.startswith("step-") and step == other.rpartition("-")[0]


def ledger(events: Sequence[Event]) -> EditHistory:
    """What people did to a recording's entries, from its events in the order of commit."""
    undone = undone_events(tuple(events))
    heard: set[str] = set()
    starts: dict[str, str] = {}
    words: dict[str, str] = {}
    for event in events:
        if event.event == "utterance":
            starts[event.id] = clock_if_timed(event.start_s, event.end_s)
        elif event.event == "reading":
            words[event.utterance] = event.words
            if event.by == "listener":
                heard.add(event.utterance)
        elif event.event == "verdict":
            heard.add(event.utterance)
    acts: dict[str, PastEdit] = {}
    done: list[PastEdit] = []
    redoable: list[PastEdit] = []
    touched: dict[str, datetime | None] = {}
    of_none: set[str] = set()
    for event in events:
        if event.event == "verdict" or (event.event == "utterance" and event.id in heard):
            continue
        if event.event == "reading" and event.by == "listener":
            continue
        act = _act(event, starts, heard, words)
        if act is not None:
            acts[event.id] = act
        if event.id in undone:
            continue
        if act is not None:
            if done and _same_step(done[-1].id, act.id):
                act = act.model_copy(update={"also": (*done[-1].also, done.pop().id)})
            done.append(act)
            redoable.clear()
            if isinstance(event, Action) and event.action == "clock":
                of_none.add(act.id)
            else:
                touched[act.entry] = getattr(event, "at", None)
        elif isinstance(event, Action) and event.action == "undo" and event.target in acts:
            taken = acts[event.target].model_copy(update={"id": event.id, "also": ()})
            if redoable and _same_step(redoable[-1].id, event.id):
                also = (*redoable[-1].also, redoable.pop().id)
                taken = taken.model_copy(update={"also": also})
            redoable.append(taken)
    return EditHistory(
        undo=_of_step(done[-1]) if done else None,
        last_of={act.entry: _of_step(act) for act in done if act.id not in of_none},
        redo=_of_step(redoable[-1]) if redoable else None,
        touched=touched,
    )


def _of_step(act: PastEdit) -> PastEdit:
    told = step_words(act.told, 1 + len(act.also))
    return act.model_copy(update={"told": told})


def _act(
    event: Event, starts: Mapping[str, str], heard: set[str], words: Mapping[str, str]
) -> PastEdit | None:
    """The act that an event is, or None where no person did it or it goes with another."""
    match event:
        case Utterance() if event.id not in heard:
            entry = event.id
        case Reading(by="person") if event.id != f"{event.utterance}.r":
            entry = event.utterance  # the other goes with the utterance that was added
        case Action(by="person") if event.action != "undo":
            entry = event.target
        case _:
            return None
    told = edit_words(event, starts.get(entry, ""), words.get(entry, ""))
    return PastEdit(id=event.id, entry=entry, told=told)


def history(entry: str, events: Sequence[Event]) -> tuple[str, ...]:
    """All that happened to an entry, a line each, in the order of commit. `events` are all of its
    recording."""
    undone = undone_events(tuple(events))
    about: set[str] = {entry}
    lines = []
    for event in events:
        if _is_about(event, entry, about):
            about.add(event.id)
            lines.append(event_words(event, undone=event.id in undone))
    return tuple(lines)


def _is_about(event: Event, entry: str, about: set[str]) -> bool:
    """Whether an event is about an entry, or takes back one of those `about` it."""
    match event:
        case Utterance():
            return event.id == entry
        case Reading() | Verdict():
            return event.utterance == entry
        case Action():
            aimed_on = event.cause is not None or event.action == "undo"
            return event.target == entry or (event.target in about and aimed_on)
        case _:
            return False
