"""One session while it is being written: what holds, what happened, which rep is open."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from voicelog.model import (
    Condition,
    Dog,
    Entry,
    Mark,
    MarkKind,
    Outcome,
    Roster,
    Session,
    Slot,
)
from voicelog.model.phrases import (
    ConditionPhrase,
    EquipmentPhrase,
    HandlerPhrase,
    phrase_slots,
)
from voicelog.session.other_dogs import VoiceCall, entries_naming_other_dogs
from voicelog.session.rep_builder import RepBuilder

__all__ = ["SessionBuilder"]

_MEASURED = {"distance", "shot"}
_KEPT_BY_NEXT_DOG = frozenset({"location", "temperature", "humidity", "handler"})


@dataclass(slots=True)
class SessionBuilder:
    """A session in the making.

    `open` is the rep still waiting for its outcome, `closed` the last one that has it, and
    `closed_by` the entry that gave it. `current_level` is the level last pressed or set. `calls`
    are the dogs called by voice, of each entry that called any.
    """

    id: str
    recording: str
    dog: Dog
    start_s: float
    end_s: float
    temperature_unit: str
    conditions: list[Condition] = field(default_factory=list)
    marks: list[Mark] = field(default_factory=list)
    drafts: list[RepBuilder] = field(default_factory=list)
    entries: dict[str, None] = field(default_factory=dict)
    placed: dict[str, None] = field(default_factory=dict)
    flagged: dict[str, None] = field(default_factory=dict)
    calls: dict[str, list[VoiceCall]] = field(default_factory=dict)
    open: RepBuilder | None = None
    closed: RepBuilder | None = None
    closed_by: str | None = None
    collar_on: bool = False
    current_level: int | None = None

    def value(self, name: str) -> str | None:
        """What holds now under this name, or None."""
        return next((c.value for c in reversed(self.conditions) if c.name == name), None)

    @property
    def finding_level(self) -> bool:
        """Whether the drill is the search for the level the dog first notices."""
        return self.value("drill") == "find level"

    def mark(
        self,
        entry: Entry,
        kind: MarkKind,
        name: str,
        value: Slot | None = None,
        rep: RepBuilder | None = None,
    ) -> None:
        """Add to the timeline."""
        number = rep.number if rep else None
        self.marks.append(
            Mark(at_s=entry.start_s, entry=entry.id, kind=kind, name=name, value=value, rep=number)
        )

    def set_conditions(
        self, entry: Entry, phrase: EquipmentPhrase | ConditionPhrase | HandlerPhrase
    ) -> None:
        """Conditions and equipment hold from here on."""
        kind: MarkKind = "equipment" if isinstance(phrase, EquipmentPhrase) else "condition"
        for name, value in phrase_slots(phrase).items():
            if name in ("unit", "do"):
                continue
            unit = self._unit(name, phrase)
            self.conditions.append(
                Condition(at_s=entry.start_s, name=name, value=str(value), unit=unit)
            )
            self.mark(entry, kind, name, value)
        if isinstance(phrase, EquipmentPhrase):
            if phrase.collar == "stripped":
                self.collar_on = False
            elif any((phrase.collar, phrase.fit is not None, phrase.contact, phrase.test)):
                self.collar_on = True
            if phrase.contact == "none":
                self._void_unfelt()
        self.placed[entry.id] = None

    def _unit(
        self, name: str, phrase: EquipmentPhrase | ConditionPhrase | HandlerPhrase
    ) -> str | None:
        if name in _MEASURED and isinstance(phrase, ConditionPhrase):
            return phrase.unit
        return {"temperature": self.temperature_unit, "humidity": "%"}.get(name)

    def _void_unfelt(self) -> None:
        """Without contact the dog felt nothing: what it "ignored" just before says nothing."""
        for draft in reversed(self.drafts):
            unfelt = draft.outcome == "ignored" or (
                draft.signs and all(mark.class_ == "none" for mark in draft.signs)
            )
            if not (unfelt and draft.presses):
                return
            draft.void = True

    def carry_over(self, previous: Iterable[Condition], start_s: float) -> None:
        """What the next dog keeps of the last one's conditions: place, weather, handler."""
        newest = {c.name: c for c in previous if c.name in _KEPT_BY_NEXT_DOG}
        self.conditions.extend(
            condition.model_copy(update={"at_s": start_s}) for condition in newest.values()
        )

    def open_rep(self, entry: Entry) -> RepBuilder:
        """Open the next rep under what holds now."""
        distance = next((c for c in reversed(self.conditions) if c.name == "distance"), None)
        opened_here = sum(draft.id.startswith(f"{entry.id}.") for draft in self.drafts)
        draft = RepBuilder(
            number=len(self.drafts) + 1,
            id=f"{entry.id}.{opened_here + 1}",
            start_s=entry.start_s,
            end_s=entry.end_s,
            collar_on=self.collar_on,
            drill=self.value("drill"),
            distraction=self.value("distraction"),
            distance=float(distance.value) if distance else None,
            distance_unit=distance.unit if distance else None,
        )
        self.drafts.append(draft)
        self.open = draft
        return draft

    def close_rep(self, entry: Entry, outcome: Outcome | None, word: str | None = None) -> None:
        """Close the open rep with what was said of it."""
        draft = self.open
        if draft is None:
            return
        draft.outcome = outcome
        if word is not None:
            draft.outcome_at = (entry.start_s, entry.id)
            self.mark(entry, "outcome", outcome or "", word, draft)
        draft.end_s = max(draft.end_s, entry.end_s)
        self.open, self.closed, self.closed_by = None, draft, entry.id

    def abandon_rep(self) -> None:
        """Close the open rep without knowing how it ended; that is doubtful."""
        if self.open is not None:
            self.open.outcome, self.open.doubtful = "unknown", True
            self.open, self.closed, self.closed_by = None, self.open, None

    def session(self, said: Mapping[str, Entry], roster: Roster) -> Session:
        """What it comes to. `said` are the recording's entries by id, in order of time."""
        entries = [said[name] for name in self.entries if name in said]
        return Session(
            id=self.id,
            recording=self.recording,
            dog=self.dog,
            start_s=self.start_s,
            end_s=self.end_s,
            conditions=tuple(self.conditions),
            marks=tuple(self.marks),
            reps=tuple(draft.rep(self.id, self.dog.name) for draft in self.drafts),
            entries=tuple(self.entries),
            placed=tuple(self.placed),
            flagged=tuple(self.flagged),
            others=entries_naming_other_dogs(self.dog, self.calls, entries, self.placed, roster),
        )
