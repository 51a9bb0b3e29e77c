"""What a correction changed, in words: findings, reps, counts, facts, and other sessions.

What is worse for the dog than it was is told first, what is gone last. A change in one session may
change what is found in others of the dog, since rules look at the sessions before: each of those is
told and counted too.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby
from typing import NamedTuple

from voicelog.model import Finding, Rep, Session
from voicelog.report.finding_changes import ChangeCode, FindingChange, SessionChange, compared
from voicelog.report.state_words import TO_CHECK
from voicelog.report.summary import Summary
from voicelog.report.summary_rows import SummaryRow, summary_row
from voicelog.report.words import clean, counted, date_words, sentence

__all__ = ["SeenSession", "change_counts", "changes", "changes_elsewhere"]

_SHOWN = ("word", "drill", "call", "button", "outcome", "seen", "turned", "came")
_NAMES = {
    "word": "mark",
    "seen": "seen, given",
    "turned": "seconds to turn",
    "came": "seconds to come",
}


_TOLD: dict[ChangeCode, str] = {
    "new": "New, {now}: {words}",
    "graver": "Now a {now} (was a {was}): {words}",
    "sure": "Now sure, {now}: {words}",
    "reads": "Now reads, {now}: {words}",
    "perhaps": "Now in doubt, {now}: {words}",
    "lesser": "Now a {now} (was a {was}): {words}",
    "void": "Now void, kept on record, {now}: {words}",
    "gone": "No longer found, {now}: {words}",
}
_ELSEWHERE: dict[ChangeCode, tuple[str, str]] = {
    "new": ("now stands in", "now stand in"),
    "graver": ("is graver than it was in", "are graver than they were in"),
    "sure": ("is sure now in", "are sure now in"),
    "reads": ("reads otherwise now in", "read otherwise now in"),
    "perhaps": ("is in doubt now in", "are in doubt now in"),
    "lesser": ("weighs less than it did in", "weigh less than they did in"),
    "void": ("is void now in", "are void now in"),
    "gone": ("no longer stands in", "no longer stand in"),
}
_WORST: tuple[ChangeCode, ...] = tuple(_TOLD)
_SEVERITIES = ("stop", "caution", "remark")
MOST_TOLD = 8
"""Lines on other sessions that a person is shown of one act."""
_FIRST: tuple[ChangeCode, ...] = ("new", "graver", "sure")
_MOST_READ = 3
"""Findings in other words that are each told; of the rest, how many there are."""
_REPS = re.compile(r"\breps? \d+(?:(?:,? and |, )\d+)*")
"""The numbers of reps in a finding, which change where another rep goes or comes."""


class SeenSession(NamedTuple):
    """A session as a person saw it."""

    session: Session
    summary: Summary
    findings: tuple[Finding, ...]


def changes(
    before: SeenSession | None,
    after: SeenSession | None,
    elsewhere: Sequence[SessionChange] = (),
) -> tuple[str, ...]:
    """Sentences; empty when nothing but the entry itself is different. `elsewhere` are the other
    sessions whose findings changed with it."""
    found = _findings(before, after)
    far = _elsewhere(elsewhere)
    near: list[str] = []
    if before is None or after is None:
        if before is not after:
            near = ["There is a session now." if before is None else "The session is gone."]
    else:
        near = [
            *_reps(before.session.reps, after.session.reps),
            *_read(found),
            *(_told(one) for one in found if one.code not in (*_FIRST, "reads", "gone")),
            *_counts(before.summary.counts, after.summary.counts),
            *_facts(before.summary, after.summary),
        ]
    return (
        *(_told(one) for one in found if one.code in _FIRST),
        *(words for code, words in far if code in _FIRST),
        *near,
        *(words for code, words in far if code not in (*_FIRST, "gone")),
        *(_told(one) for one in found if one.code == "gone"),
        *(words for code, words in far if code == "gone"),
    )


def changes_elsewhere(changed: Iterable[SessionChange]) -> tuple[str, ...]:
    """What became of the findings of sessions that nobody touched, since those before them are
    other ones now: a sentence each for what is alike."""
    return tuple(words for _, words in _elsewhere(changed))


def change_counts(
    before: SeenSession | None,
    after: SeenSession | None,
    left: int,
    elsewhere: Sequence[SessionChange] = (),
) -> tuple[str, str, str]:
    """What a correction did, in three numbers: reps that are other than they were, findings that
    are, in all sessions of the dog, and what is left to check (`left`); `elsewhere` as in
    `changes`."""
    was = {} if before is None else {rep.id: summary_row(rep) for rep in _other(before, after)}
    now = {} if after is None else {rep.id: summary_row(rep) for rep in _other(after, before)}
    reps = sum(_shown(was.get(name)) != _shown(now.get(name)) for name in {**was, **now})
    here = len(_findings(before, after))
    others = sum(len(compared(one.before, one.after)) for one in elsewhere)
    far = f", {others} of them in other sessions" if others else ""
    return (
        f"{counted(reps, 'rep')} changed",
        f"{counted(here + others, 'finding')} changed{far}",
        f"{left} {TO_CHECK}",
    )


def _findings(before: SeenSession | None, after: SeenSession | None) -> tuple[FindingChange, ...]:
    was = () if before is None else before.findings
    now = () if after is None else after.findings
    return compared(was, now)


def _told(one: FindingChange) -> str:
    was = one.finding.severity if one.before is None else one.before.severity
    perhaps = one.code != "perhaps" and one.after is not None and one.after.on_doubt
    now = f"{one.finding.severity} ({TO_CHECK})" if perhaps else one.finding.severity
    words = sentence(clean(one.finding.message))
    return _TOLD[one.code].format(now=now, was=was, words=words)


def _read(found: Sequence[FindingChange]) -> Iterator[str]:
    """Findings in other words: in a sentence what is alike, and nothing of those in which only
    the numbers of reps are others, but how many they are."""
    reads = [one for one in found if one.code == "reads"]
    other = [one for one in reads if not _is_renumbered(one)]
    for severity, group in groupby(other, lambda one: one.finding.severity):
        some = list(group)
        if len(some) == 1:
            yield _told(some[0])
            continue
        told = " ".join(sentence(clean(one.finding.message)) for one in some[:_MOST_READ])
        more = f" And {len(some) - _MOST_READ} more." if len(some) > _MOST_READ else ""
        yield f"{counted(len(some), severity)} now read otherwise: {told}{more}"
    if renumbered := len(reads) - len(other):
        names = "names another rep" if renumbered == 1 else "name other reps"
        yield f"{counted(renumbered, 'finding')} now {names}, with nothing else changed."


def _is_renumbered(one: FindingChange) -> bool:
    """Whether a finding says what it said, of reps with other numbers."""
    was, now = (_REPS.sub("rep", f.message) for f in (one.before, one.after) if f is not None)
    return was == now


def _elsewhere(changed: Iterable[SessionChange]) -> list[tuple[ChangeCode, str]]:
    """The worst first; of those beyond `MOST_TOLD` how many they are."""
    lines = sorted(_each_elsewhere(changed), key=lambda one: (_WORST.index(one[1]), one[0]))
    found = [(code, words) for _, code, words, _ in lines[:MOST_TOLD]]
    left = lines[MOST_TOLD:]
    if left:
        count = counted(sum(many for *_, many in left), "other finding")
        found.append((left[0][1], f"{count} changed in more sessions of the same dogs."))
    return found


def _each_elsewhere(
    changed: Iterable[SessionChange],
) -> list[tuple[int, ChangeCode, str, int]]:
    found: list[tuple[int, ChangeCode, str, int]] = []
    for session in changed:
        whose = f"of {clean(session.dog)} " if session.dog else ""
        on = "without a date" if session.began is None else f"on {date_words(session.began.date())}"
        for (code, severity), group in groupby(compared(session.before, session.after), _alike):
            some = list(group)
            does = _ELSEWHERE[code][len(some) > 1]
            more = f" And {len(some) - 1} more." if len(some) > 1 else ""
            words = sentence(clean(some[0].finding.message))
            line = f"{counted(len(some), severity)} {does} the session {whose}{on}: {words}{more}"
            found.append((_SEVERITIES.index(severity), code, line, len(some)))
    return found


def _alike(one: FindingChange) -> tuple[ChangeCode, str]:
    return one.code, one.finding.severity


def _other(one: SeenSession, than: SeenSession | None) -> list[Rep]:
    """The reps of one that the other does not have alike."""
    known = {} if than is None else {rep.id: rep for rep in than.session.reps}
    return [rep for rep in one.session.reps if not _is_same(known.get(rep.id), rep)]


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


def _counts(before: Sequence[str], after: Sequence[str]) -> Iterator[str]:
    new = [line for line in after if line not in before]
    gone = [line for line in before if line not in after]
    if new:
        yield f"Counts: {'; '.join(new)}."
    elif gone:
        yield f"Counts: no longer '{'; '.join(gone)}'."


def _facts(before: Summary, after: Summary) -> Iterator[str]:
    was = {fact.label: fact.value for fact in before.facts}
    for fact in after.facts:
        old = was.get(fact.label)
        if old is not None and old != fact.value:
            yield f"{fact.label.capitalize()}: {fact.value} (was {old})."
