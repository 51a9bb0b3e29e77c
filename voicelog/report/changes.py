"""What a correction changed, in words: reps, findings, counts, facts."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from voicelog.model import Rep, Session
from voicelog.report.state_words import TO_CHECK
from voicelog.report.summary import Summary
from voicelog.report.summary_rows import SummaryRow, summary_row
from voicelog.report.words import counted

__all__ = ["change_counts", "changes"]

_SHOWN = ("word", "drill", "call", "button", "outcome", "seen", "turned", "came")
_NAMES = {
    "word": "mark",
    "seen": "seen, given",
    "turned": "seconds to turn",
    "came": "seconds to come",
}


def changes(
    before: tuple[Session, Summary] | None, after: tuple[Session, Summary] | None
) -> tuple[str, ...]:
    """Sentences, reps first; empty when nothing but the entry itself is different."""
    if before is None or after is None:
        if before is after:
            return ()
        return ("There is a session now.",) if before is None else ("The session is gone.",)
    return (
        *_reps(before[0].reps, after[0].reps),
        *_findings(before[1], after[1]),
        *_counts(before[1].counts, after[1].counts),
        *_facts(before[1], after[1]),
    )


def change_counts(
    before: tuple[Session, Summary] | None, after: tuple[Session, Summary] | None, left: int
) -> tuple[str, str, str]:
    """What a correction did, in three numbers: reps that are other than they were, findings that
    came or went, and what is left to check (`left`)."""
    was = {} if before is None else {rep.id: summary_row(rep) for rep in _other(before, after)}
    now = {} if after is None else {rep.id: summary_row(rep) for rep in _other(after, before)}
    reps = sum(_shown(was.get(name)) != _shown(now.get(name)) for name in {**was, **now})
    told = [] if before is None or after is None else list(_findings(before[1], after[1]))
    return (
        f"{counted(reps, 'rep')} changed",
        f"{counted(len(told), 'finding')} changed",
        f"{left} {TO_CHECK}",
    )


def _other(one: tuple[Session, Summary], than: tuple[Session, Summary] | None) -> list[Rep]:
    """The reps of one that the other does not have alike."""
    known = {} if than is None else {rep.id: rep for rep in than[0].reps}
    return [rep for rep in one[0].reps if not _is_same(known.get(rep.id), rep)]


def _is_same(then: Rep | None, rep: Rep) -> bool:
    return then is rep or then == rep


def _shown(row: SummaryRow | None) -> list[object]:
    return [] if row is None else [getattr(row, name) for name in _SHOWN]


def _reps(before: Sequence[Rep], after: Sequence[Rep]) -> Iterator[str]:
    then = {rep.id: rep for rep in before}
    same = {rep.id for rep in after if _is_same(then.get(rep.id), rep)}  # most are
    was = {rep.id: summary_row(rep) for rep in before if rep.id not in same}
    now = {rep.id: summary_row(rep) for rep in after if rep.id not in same}
    for name, line in was.items():
        if name not in now:
            yield f"Rep {line.number} is gone ({_brief(line)})."
    for name, line in now.items():
        old = was.get(name)
        if old is None:
            yield f"Rep {line.number} is new: {_brief(line)}."
            continue
        parts = [
            f"{_NAMES.get(field, field)} {getattr(line, field) or '-'}"
            f" (was {getattr(old, field) or '-'})"
            for field in _SHOWN
            if getattr(line, field) != getattr(old, field)
        ]
        if parts:
            yield f"Rep {line.number}: {', '.join(parts)}."


def _brief(line: SummaryRow) -> str:
    return ", ".join(filter(None, (line.button, line.outcome, line.seen)))


def _findings(before: Summary, after: Summary) -> Iterator[str]:
    def told(summary: Summary) -> dict[tuple[str, str, bool], str]:
        return {
            (notice.rule, notice.message, notice.on_doubt): f"{notice.severity}: {notice.message}"
            for notice in summary.notices
        }

    was, now = told(before), told(after)
    surer = {(rule, message) for rule, message, on_doubt in now if not on_doubt}
    for key, text in was.items():
        if key not in now and key[:2] not in surer:
            yield f"No longer found, {text}"
    for key, text in now.items():
        if key not in was:
            yield f"{'Now sure' if (*key[:2], True) in was else 'New'}, {text}"


def _counts(before: Sequence[str], after: Sequence[str]) -> Iterator[str]:
    if before != after:
        yield f"Counts: {'; '.join(line for line in after if line not in before) or 'fewer'}."


def _facts(before: Summary, after: Summary) -> Iterator[str]:
    was = {fact.label: fact.value for fact in before.facts}
    for fact in after.facts:
        old = was.get(fact.label)
        if old is not None and old != fact.value:
            yield f"{fact.label.capitalize()}: {fact.value} (was {old})."
