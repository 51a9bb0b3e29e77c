"""What follows from a recording's events: entries, sessions, reps and findings.

A pure function of what was kept, the same for a live session, the log, and a reader that keeps
nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any

from voicelog.analysis.session_matters import (
    MATTER_RULES,
    Acknowledgement,
    MatterFacts,
    session_matters,
)
from voicelog.app.corrected_matters import earlier_states, read_anew, strikes
from voicelog.app.derivation_memo import DerivationMemo
from voicelog.app.derivation_walk import PastSessionLookup, session_start
from voicelog.grammar.grammar import Grammar
from voicelog.model import (
    Entry,
    EntryOutput,
    Event,
    Finding,
    FrozenModel,
    RecordingOutput,
    Session,
    SessionMatter,
    SessionOutput,
)
from voicelog.model.phrases import phrase_slots
from voicelog.safety.history import PastSession
from voicelog.session.variants import SessionVariants
from voicelog.store.records import Recording

__all__ = ["Derivation", "PastSessionLookup", "derive"]


class Derivation(FrozenModel):
    """All that follows from a recording's events: the contract, the whole sessions, and the
    matters that they leave a person to close, with those that a person's reading took away.
    `doubtful` are the entries of the sessions of which nothing is left without doubt."""

    line: RecordingOutput
    sessions: tuple[Session, ...]
    entries: tuple[Entry, ...]
    matters: tuple[SessionMatter, ...] = ()
    doubtful: frozenset[str] = frozenset()

    @property
    def findings(self) -> tuple[Finding, ...]:
        """The findings, session by session."""
        return self.line.findings


def derive(
    recording: Recording,
    events: Iterable[Event],
    grammar: Grammar,
    past: PastSessionLookup = lambda dog: (),
    memo: DerivationMemo | None = None,
) -> Derivation:
    """Entries, sessions, reps, findings and matters of one recording; pure.

    `past` is asked for the earlier sessions of each dog that has one here; sessions of the same
    recording that come before are added. Roster and settings are those kept with the
    recording, and so is its clock, unless a person has set it. `memo` is of this recording and
    grammar, and changes nothing in what comes out.

    What followed from an earlier reading and follows no more since a person read it otherwise
    leaves a matter that says so (`corrected_matters`).
    """
    events = tuple(events)
    memo = memo or DerivationMemo()
    pasts: dict[str, Sequence[PastSession]] = {}

    def asked(dog: str) -> Sequence[PastSession]:
        if dog not in pasts:
            pasts[dog] = past(dog)
        return pasts[dog]

    now = _derive(recording, events, grammar, asked, memo)
    memo.keep_matters(events, dict(pasts), now.matters)
    earlier: list[SessionMatter] = []
    for place, state in enumerate(earlier_states(events)):
        then = memo.matters(state, pasts)
        if then is None:
            beside = memo.earlier(place)
            then = _derive(recording, state, grammar, asked, beside, lines=False).matters
            memo.keep_matters(state, dict(pasts), then)
        earlier += then
    gone = read_anew(now.matters, earlier, events)
    return now.model_copy(update={"matters": (*now.matters, *gone)}) if gone else now


# --- within -----------------------------------------------------------------------------


def _derive(
    recording: Recording,
    events: tuple[Event, ...],
    grammar: Grammar,
    past: PastSessionLookup,
    memo: DerivationMemo,
    *,
    lines: bool = True,
) -> Derivation:
    """Without `lines`, for the matters alone, the entries are left out of the contract."""
    derived = memo.walk(grammar, past).derived(recording, events)
    sessions, entries, found = derived.sessions, derived.entries, derived.findings
    seen, started_at = derived.seen, derived.started_at
    line = RecordingOutput(
        audio=recording.file_name,
        sha256=recording.sha256 or recording.id,
        started_at=started_at,
        duration_s=round(recording.duration_s, 3),
        listeners=recording.listeners,
        grammar=recording.grammar,
        dog=recording.dog,
        sound=recording.level,
        sessions=tuple(
            SessionOutput(
                id=session.id,
                dog=session.dog.name,
                start_s=session.start_s,
                end_s=session.end_s,
                conditions=session.conditions,
            )
            for session in sessions
        ),
        entries=_entry_lines(entries, sessions, memo) if lines else (),
        reps=tuple(rep for session in sessions for rep in session.reps),
        findings=found,
    )
    return Derivation(
        line=line,
        sessions=sessions,
        entries=entries,
        matters=_matters(events, seen, entries, started_at, found),
        doubtful=frozenset().union(*(one.doubtful for one in seen)),
    )


def _matters(
    events: Sequence[Event],
    seen: Sequence[SessionVariants],
    entries: Sequence[Entry],
    started_at: datetime | None,
    found: Sequence[Finding],
) -> tuple[SessionMatter, ...]:
    """The matters of the sessions as they stand."""
    if not any(one.severity == "stop" or one.rule in MATTER_RULES for one in found):
        return ()
    struck = strikes(events)
    told_of = {name for one in found for name in one.evidence}
    spans = {one.id: (one.start_s, one.end_s) for one in entries if one.id in told_of}
    told = [
        Acknowledgement(event.at_s, event.detail)
        for event in events
        if event.event == "field" and event.what == "acknowledgement"
    ]
    matters: list[SessionMatter] = []
    for variants in seen:
        session = variants.with_doubtful
        here = [one for one in told if session.start_s <= one.at_s]
        marks = [mark for other in variants.uncorrected for mark in other.marks]
        in_doubt = all(one.dog.name != session.dog.name for one in variants.sure)
        facts = MatterFacts(marks, struck, here, spans, in_doubt)
        matters += session_matters(session, found, session_start(started_at, session), facts)
    return tuple(matters)


def _entry_lines(
    entries: Sequence[Entry], sessions: Sequence[Session], memo: DerivationMemo
) -> tuple[EntryOutput, ...]:
    session_of = {entry: session.id for session in sessions for entry in session.entries}
    placed = {entry for session in sessions for entry in session.placed}

    def line(entry: Entry) -> EntryOutput:
        session, is_placed = session_of.get(entry.id), entry.id in placed
        return memo.line(entry, session, is_placed, lambda: _line(entry, session, is_placed))

    return tuple(map(line, entries))


def _line(entry: Entry, session: str | None, placed: bool) -> EntryOutput:
    return EntryOutput(
        id=entry.id,
        session=session,
        start_s=entry.start_s,
        end_s=entry.end_s,
        heard=entry.heard,
        reading=entry.reading,
        status=entry.status,
        confidence=entry.confidence,
        alternatives=entry.alternatives,
        kind="+".join(phrase.kind for phrase in entry.phrases),
        slots=_merged(entry),
        by=entry.by,
        voided=entry.voided,
        placed=placed,
    )


def _merged(entry: Entry) -> dict[str, Any]:
    """The values of all phrases; a name said more than once holds them all, in order."""
    slots: dict[str, Any] = {}
    for phrase in entry.phrases:
        for name, value in phrase_slots(phrase).items():
            if name not in slots:
                slots[name] = value
            elif isinstance(slots[name], list):
                slots[name].append(value)
            else:
                slots[name] = [slots[name], value]
    return slots
