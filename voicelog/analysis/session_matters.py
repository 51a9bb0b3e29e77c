"""Which matters a session leaves: what in its findings a person must close.

One matter for each kind in a session, with all reps and entries that it rests on. A strong sign
that a stop of its session rests on is told with the stop. A struck finding makes a matter as any
other does, marked by whom it was struck; so does one that rests on doubt.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import NamedTuple

from voicelog.model import (
    Finding,
    Mark,
    MatterCorrection,
    MatterKind,
    Session,
    SessionMatter,
)
from voicelog.model.aggression import AGGRESSION_SIGNS
from voicelog.model.domain import STIMULATION
from voicelog.model.matters import MATTER_KINDS

__all__ = ["BAD_SKIN", "MATTER_RULES", "Acknowledgement", "MatterFacts", "session_matters"]

MATTER_RULES: Mapping[str, MatterKind] = {
    "skin": "skin",
    "over-ceiling": "ceiling",
    "bird": "stage",
    "gun": "stage",
    "stress-strong": "strong sign",
}
"""What the findings of a rule are; those of any other rule are a matter where they are a stop."""

BAD_SKIN = frozenset({"red", "sore"})
"""Skin that a person has to look at before a collar goes on."""
_LEAD_S = 2.0
"""What is played before a word that lies in no rep, s."""


class Acknowledgement(NamedTuple):
    """A "roger" in the field: when in the recording (s), and to a stop of which rule."""

    at_s: float
    rule: str


class MatterFacts(NamedTuple):
    """What is known around a session beside its findings.

    `marks` are those of the session as if nothing had been struck; `struck` says of an entry who
    took it back; `spans` of an entry from when to when it lies in the recording (s).
    `dog_in_doubt`: whose session it is rests on a doubtful entry.
    """

    marks: Sequence[Mark] = ()
    struck: Mapping[str, MatterCorrection] = {}
    acknowledged: Sequence[Acknowledgement] = ()
    spans: Mapping[str, tuple[float, float]] = {}
    dog_in_doubt: bool = False


def session_matters(
    session: Session,
    findings: Iterable[Finding],
    began: datetime | None = None,
    facts: MatterFacts | None = None,
) -> tuple[SessionMatter, ...]:
    """The matters of a session, the gravest first; pure.

    Args:
        findings: of any session; those of this one are taken, struck or not.
        began: wall clock when the session began, None when not known.
        facts: what else is known; without it a struck finding counts as struck by voice.
    """
    facts = facts or MatterFacts()
    own = [
        one
        for one in findings
        if one.session == session.id and (one.severity == "stop" or one.rule in MATTER_RULES)
    ]
    if not own:
        return ()
    marks: dict[str, list[Mark]] = {entry: [] for one in own for entry in one.evidence}
    for mark in (*session.marks, *facts.marks):
        if mark.entry in marks and mark not in marks[mark.entry]:
            marks[mark.entry].append(mark)
    groups: dict[MatterKind, list[Finding]] = {}
    for one in own:
        groups.setdefault(_kind(one, marks), []).append(one)
    signs = groups.get("strong sign", [])
    stops = groups.get("stop", [])
    told = {entry for stop in stops if not stop.struck for entry in stop.evidence}
    if signs and all(told.issuperset(sign.evidence) for sign in signs):
        groups["stop"] = [*stops, *groups.pop("strong sign")]
    return tuple(
        _matter(kind, session, groups[kind], marks, began, facts)
        for kind in MATTER_KINDS
        if kind in groups
    )


def _kind(one: Finding, marks: Mapping[str, Sequence[Mark]]) -> MatterKind:
    """The kind of matter that a stop, or a finding of one of `MATTER_RULES`, leaves."""
    kind = MATTER_RULES.get(one.rule)
    if kind in (None, "strong sign"):
        said = (mark for entry in one.evidence for mark in marks.get(entry, ()))
        if any(mark.kind == "sign" and mark.name in AGGRESSION_SIGNS for mark in said):
            return "aggression"
    return kind or "stop"


def _matter(
    kind: MatterKind,
    session: Session,
    found: Sequence[Finding],
    marks: Mapping[str, Sequence[Mark]],
    began: datetime | None,
    facts: MatterFacts,
) -> SessionMatter:
    live = [one for one in found if not one.struck]
    shown = live or found
    entries = tuple(dict.fromkeys(entry for one in found for entry in one.evidence))
    said = [mark for entry in entries for mark in marks.get(entry, ())]
    shown_entries = {entry for one in shown for entry in one.evidence}
    reps = {number for one in shown for number in one.reps}
    start_s, end_s = _span(session, shown[-1].evidence, said, facts)
    return SessionMatter(
        kind=kind,
        session=session.id,
        recording=session.recording,
        dog=session.dog.name,
        began=None if began is None else began.replace(tzinfo=None),
        rules=tuple(dict.fromkeys(one.rule for one in shown)),
        names=tuple(
            dict.fromkeys(
                name for mark in said if mark.entry in shown_entries for name in _names(kind, mark)
            )
        ),
        stop=kind == "aggression" or any(one.severity == "stop" for one in found),
        reps=tuple(sorted(reps)),
        rep_ids=tuple(one.id for one in session.reps if one.number in reps),
        struck_reps=tuple(
            sorted({number for one in found if one.struck for number in one.reps} - reps)
        ),
        entries=entries or (session.id,),
        start_s=start_s,
        end_s=end_s,
        levels=tuple(sorted(set(_levels(session, said)))),
        transmitter=session.dog.transmitter,
        on_doubt=facts.dog_in_doubt or all(one.on_doubt for one in shown),
        correction=None if live else _struck(found, facts),
        acknowledged=any(
            told.rule == one.rule and told.at_s >= start_s
            for one in shown
            for told in facts.acknowledged
        ),
    )


def _struck(found: Sequence[Finding], facts: MatterFacts) -> MatterCorrection:
    """Who took back findings that were all struck; by voice, where that of one was."""
    by_voice = MatterCorrection(how="by voice")
    newest: MatterCorrection | None = None
    for one in found:
        own = [facts.struck[entry] for entry in one.evidence if entry in facts.struck]
        typed = [correction for correction in own if correction.how != "by voice"]
        if not typed:
            return own[-1] if own else by_voice
        newest = typed[-1]
    return newest or by_voice


def _names(kind: MatterKind, mark: Mark) -> Iterable[str]:
    """The strong signs; of the skin, how it was."""
    if mark.kind == "sign" and mark.value == "strong":
        yield mark.name
    elif (
        kind == "skin"
        and mark.kind == "equipment"
        and mark.name == "skin"
        and mark.value in BAD_SKIN
    ):
        yield str(mark.value)


def _levels(session: Session, said: Iterable[Mark]) -> Iterable[int]:
    """The levels in force at the strong signs among the evidence, but for those in void reps: the
    levels that the ceiling rests on."""
    at = {mark.at_s for mark in said if mark.kind == "sign" and mark.value == "strong"}
    for rep in session.reps:
        if rep.void:
            continue
        for sign in rep.sign_marks:
            if sign.at_s in at and sign.class_ == "strong" and sign.level is not None:
                yield sign.level
        pressed = rep.mode in STIMULATION and rep.peak_level is not None
        if pressed and any(
            sign.at_s in at and sign.class_ == "strong" and sign.level is None
            for sign in rep.sign_marks
        ):
            yield rep.peak_level or 0


def _span(
    session: Session, evidence: Sequence[str], said: Sequence[Mark], facts: MatterFacts
) -> tuple[float, float]:
    """From the start of the rep that decided to the end of its word."""
    last = [mark for mark in said if mark.entry in evidence[-1:]]
    if not last:
        return session.start_s, session.end_s
    word = last[-1]
    start_s, end_s = facts.spans.get(word.entry, (word.at_s, word.at_s + 1.0))
    rep = next((one for one in session.reps if one.number == word.rep), None)
    begin = max(0.0, start_s - _LEAD_S) if rep is None else min(rep.start_s, start_s)
    return round(begin, 3), round(max(end_s, begin), 3)
