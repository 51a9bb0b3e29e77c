"""The summary of a session: one value that text, Markdown and HTML each lay out.

Everything that is worded is worded here, so the papers cannot disagree; a renderer only
arranges and escapes. The order of the fields is the order on paper: what went against the
dog first.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from voicelog import __version__
from voicelog.analysis.open_matters import OpenMatter, last_bad_day, open_matters, standing
from voicelog.analysis.plan import Plan
from voicelog.analysis.rep_questions import rep_questions
from voicelog.analysis.session_matters import session_matters
from voicelog.model import CONTRACT_VERSION, EntryOutput, Finding, FrozenModel, Session
from voicelog.model.names import name_key
from voicelog.report.facts import Fact, collar_off, session_facts
from voicelog.report.next_session import next_session
from voicelog.report.notices import Notice, notices
from voicelog.report.rep_counts import LevelRow, count_lines, level_rows
from voicelog.report.state_words import CHECK, NOT_UNDERSTOOD, entry_word
from voicelog.report.summary_rows import (
    EntryNote,
    SummaryRow,
    check_note,
    entries_to_check,
    flagged_entries,
    reps_note,
    says_whose,
    summary_rows,
)
from voicelog.report.unread_lines import unread_lines_words
from voicelog.report.wording.matters import (
    bad_day_words,
    matter_count_words,
    matter_words,
    matters_place_words,
)
from voicelog.report.words import Face, clean, day
from voicelog.safety.cautions import SHORT
from voicelog.safety.settings import Settings, changed

__all__ = ["FOOTER", "Summary", "summarise"]

NO_FINDING = "No stop and no caution in this session."
NO_DATE = "not known: taken as older than all sessions with a date"
NOT_KEPT = "not kept, as this is not in the log"
"""What a session without a date has for it, the rule of every paper."""

FOOTER = f"voicelog {__version__}, format {CONTRACT_VERSION}"
"""Closes every paper."""


class Summary(FrozenModel):
    """A session on one page, in the order it is to be read."""

    session: str
    dog: str
    safety: str
    """What stands where no stop and no caution does; "" where one does."""
    unread: str
    """That typed lines were not understood and are in no count; "" where none are."""
    notices: tuple[Notice, ...]
    matters: tuple[str, ...]
    """How many matters of the dog are open, and what became of those of this session."""
    changed: tuple[str, ...]
    """The thresholds that differ from their defaults, so that a rule made quiet is seen."""
    facts: tuple[Fact, ...]
    counts: tuple[str, ...]
    levels: tuple[LevelRow, ...]
    levels_note: str
    reps: tuple[SummaryRow, ...]
    reps_note: str
    off: tuple[Fact, ...]
    check_note: str
    to_check: tuple[EntryNote, ...]
    flagged: tuple[EntryNote, ...]
    next_session: str
    cautions: str
    footer: str = FOOTER


def summarise(
    session: Session,
    findings: Sequence[Finding],
    entries: Sequence[EntryOutput],
    started_at: datetime | None,
    previous: Session | None = None,
    *,
    settings: Settings | None = None,
    cautions: str | None = None,
    typed: bool = False,
    matters: Sequence[OpenMatter] | None = None,
    planned: Plan | None = None,
    face: Face = "terminal",
) -> Summary:
    """Word a session.

    Args:
        findings: of any session; those of this one are taken.
        entries: those read together with it, sound before or after every session too.
        started_at: wall clock at the recording's first sample, None when not known.
        previous: the same dog's session before this one, to set the levels beside.
        settings: what the session was checked with; None for the defaults.
        typed: whether its notes were typed.
        matters: the dog's list of open matters; None: what this session leaves, none closed.
        planned: the dog's plan, which has the one limit of a level on this page; None: the page
            has none, and points to the plan.
        face: where it is read, which says where to go on.
        cautions: the two lines that travel with every paper; None takes safety's own.

    Raises:
        ValueError: `previous` is another dog's session.
    """
    if previous is not None and name_key(previous.dog.name) != name_key(session.dog.name):
        raise ValueError(f"previous session is {previous.dog.name}'s, not {session.dog.name}'s")
    findings = [finding for finding in findings if finding.session == session.id]
    began = None if started_at is None else started_at + timedelta(seconds=session.start_s)
    levels = level_rows(session, previous)
    doubted = {entry.id for entry in entries if entry_word(entry) == CHECK}
    facts = session_facts(
        session, day(began) if began else "not known" if matters is None else NO_DATE, doubted
    )
    if any(says_whose(session, entry) for entry in entries):
        facts = (Fact(label="dog", value=f"{clean(session.dog.name)} ({CHECK})"), *facts[1:])
    kept = matters is not None
    if matters is None:
        matters = open_matters(session_matters(session, findings, began))
    found = notices(
        findings,
        frozenset(rep.number for rep in session.reps if rep.void),
        frozenset(rep.number for rep in session.reps if rep.doubtful and not rep.void),
    )
    return Summary(
        session=session.id,
        dog=clean(session.dog.name) or "no dog named",
        unread=unread_lines_words(
            [
                one.heard
                for one in entries
                if typed and entry_word(one) == NOT_UNDERSTOOD and not one.voided
            ]
        ),
        safety=_safety(session, found, matters, began),
        notices=found,
        matters=_matters(session, matters, face if kept else None),
        changed=changed(settings.for_dog(session.dog.name)) if settings else (),
        facts=facts,
        counts=tuple(map(clean, count_lines(session))),
        levels=levels,
        levels_note=_levels_note(session, previous) if levels else "",
        reps=summary_rows(session),
        reps_note=reps_note(session, doubted),
        off=collar_off(session, doubted),
        check_note=check_note(
            entries, [one.rep for one in rep_questions(session)], typed=typed, face=face
        ),
        to_check=entries_to_check(session, entries),
        flagged=flagged_entries(session, entries),
        next_session=next_session(session, matters, planned),
        cautions=SHORT if cautions is None else cautions,
    )


def _safety(
    session: Session,
    found: Sequence[Notice],
    matters: Sequence[OpenMatter],
    began: datetime | None,
) -> str:
    """That there was no stop and no caution; of a note without a rep rather the last bad day."""
    if any(notice.severity != "remark" for notice in found):
        return ""
    if not session.reps and began is not None:
        bad = last_bad_day(matters, began.date(), session.id)
        if bad:
            return f"No rep in this session. {bad_day_words(bad)}"
    return NO_FINDING


def _matters(session: Session, matters: Sequence[OpenMatter], face: Face | None) -> tuple[str, ...]:
    """What became of its own, under where all of the dog are; no `face`: nowhere, as nothing of it
    is in the log."""
    done = [one for one in matters if one.matter.session == session.id and not one.stands]
    lines = list(map(matter_words, done))
    if standing(matters):
        dog = clean(session.dog.name)
        where = matters_place_words(dog, face) if face else NOT_KEPT
        lines.insert(0, f"{matter_count_words(matters)}: {where}")
    return tuple(lines)


def _levels_note(session: Session, previous: Session | None) -> str:
    if previous is None:
        return "No earlier session to compare it with."
    if previous.dog.transmitter != session.dog.transmitter:
        return "Last time was on another transmitter: no comparison possible."
    return ""
