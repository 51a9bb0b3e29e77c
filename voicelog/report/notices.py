"""Findings in words: one notice each, and for a small page one for what is alike.

On paper every finding stands by itself. A terminal has one screen, so there the findings of
one rule that ask for the same are told once, with all of their reps.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence

from voicelog.model import Finding, FrozenModel, Severity
from voicelog.model.same_object import once_per_object
from voicelog.report.state_words import TO_CHECK, VOID, check_reps_words, void_reps_words
from voicelog.report.words import clean, counted, numbers, sentence
from voicelog.safety.earlier_doubt import EARLIER

__all__ = ["GroupedNotice", "Notice", "notices", "rise", "told"]

_WEIGHT: Mapping[Severity, int] = {"stop": 0, "caution": 1, "remark": 2}
_LONG = 30
"""Characters of a basis that a small page tells only once."""
_NUMBERS = re.compile(r"\d+(?:[.:,]\d+)*")
_RISE = re.compile(r"Up from level (\d+) to (\d+)")
_MOST_UNLIKE = 2
"""Messages of one rule that are told when they say different things."""
_ON_CHECK = f"based on an entry {TO_CHECK}"
_ON_VOID = f"based on a {VOID} entry, kept on record"


class Notice(FrozenModel):
    """A finding in words. `tail` says where, why and how sure; `void_reps` are those of its `reps`
    that are void, `check_reps` those that are to check where it is not said to be on doubt."""

    rule: str
    severity: Severity
    struck: bool
    on_doubt: bool
    reps: tuple[int, ...]
    void_reps: tuple[int, ...] = ()
    check_reps: tuple[int, ...] = ()
    message: str
    advice: str
    basis: str
    tail: str


class GroupedNotice(FrozenModel):
    """One or more notices that are alike, told at once."""

    severity: Severity
    message: str
    advice: str


def notices(
    findings: Iterable[Finding],
    void_reps: Collection[int] = frozenset(),
    check_reps: Collection[int] = frozenset(),
) -> tuple[Notice, ...]:
    """The findings in words, stops first, those on void entries last of their weight. `void_reps`
    and `check_reps` are the numbers of the reps of their session that are void or to check."""
    return tuple(
        _notice(
            one,
            tuple(rep for rep in one.reps if rep in void_reps),
            tuple(rep for rep in one.reps if rep in check_reps),
        )
        for one in sorted(findings, key=lambda one: (_WEIGHT[one.severity], one.struck))
    )


def told(all_of_them: Sequence[Notice]) -> Iterator[GroupedNotice]:
    """The same in as few words as will do: what is alike once, and a long basis once."""
    groups: dict[tuple[str, Severity, bool, str], list[Notice]] = {}
    for notice in sorted(all_of_them, key=lambda one: (_WEIGHT[one.severity], one.struck)):
        key = (notice.rule, notice.severity, notice.struck, notice.advice)
        groups.setdefault(key, []).append(notice)
    known: set[str] = set()
    for group in groups.values():
        group = sorted(group, key=lambda one: (-rise(one), one.on_doubt))
        first, said = group[0], _unlike(group)
        note = "; ".join(filter(None, (*_where(said, group), *_why(group, known), _doubt(group))))
        if first.struck:
            note += f"; {_ON_VOID}"
        yield GroupedNotice(
            severity=first.severity,
            message=f"{' '.join(said)} ({note})",
            advice=first.advice,
        )


def rise(one: Notice) -> int:
    """By how much a level went up at once, where that is what a notice says; else 0."""
    found = _RISE.search(one.message)
    return int(found[2]) - int(found[1]) if found else 0


def _unlike(group: Sequence[Notice]) -> tuple[str, ...]:
    """The messages of a group, of those that differ in nothing but numbers the first."""
    found: dict[str, str] = {}
    for notice in group:
        found.setdefault(_NUMBERS.sub("#", notice.message), notice.message)
    return tuple(found.values())[:_MOST_UNLIKE]


def _where(said: Sequence[str], group: Sequence[Notice]) -> tuple[str, ...]:
    """How often and in which reps, where the messages that are `said` do not say it already; and
    which of those reps are void or to check."""
    reps = sorted({rep for notice in group for rep in notice.reps})
    void = sorted({rep for notice in group for rep in notice.void_reps})
    check = sorted({rep for notice in group for rep in notice.check_reps})
    if len(group) > len(said):
        return (counted(len(group), "time"), _reps(reps, void, check))
    named = {int(rep) for one in said for rep in re.findall(r"\brep (\d+)\b", one)}
    if named.issuperset(reps):
        return (void_reps_words(void), check_reps_words(check))
    return (_reps(reps, void, check),)


def _reps(reps: Sequence[int], void: Sequence[int], check: Sequence[int]) -> str:
    """The numbers of reps, and of those the `void` ones and those to `check`."""
    if reps and len(reps) in (len(void), len(check)):
        return void_reps_words(void) or check_reps_words(check)
    told = (numbers("rep", reps), void_reps_words(void), check_reps_words(check))
    return "; ".join(filter(None, told))


def _why(group: Sequence[Notice], known: set[str]) -> Iterator[str]:
    for basis in dict.fromkeys(notice.basis for notice in group):
        yield "basis as above" if basis in known and len(basis) > _LONG else basis
        known.add(basis)


def _doubt(group: Sequence[Notice]) -> str:
    unsure = sum(one.on_doubt and EARLIER not in one.message for one in group)
    if not unsure:
        return ""
    part = "" if unsure == len(group) else f"{unsure} of them "
    return f"{part}{_ON_CHECK}"


@once_per_object
def _notice(finding: Finding, void: tuple[int, ...], check: tuple[int, ...]) -> Notice:
    message, basis = clean(finding.message), clean(finding.basis)
    if finding.on_doubt or finding.struck:
        check = ()
    tail = [_reps(finding.reps, void, check), basis]
    if finding.on_doubt and EARLIER not in finding.message:
        tail.append(_ON_CHECK)
    if finding.struck:
        tail.append(_ON_VOID)
    return Notice(
        rule=finding.rule,
        severity=finding.severity,
        struck=finding.struck,
        on_doubt=finding.on_doubt,
        reps=finding.reps,
        void_reps=void,
        check_reps=check,
        message=sentence(f"{VOID}: {message}" if finding.struck else message),
        advice=sentence(clean(finding.advice)),
        basis=basis,
        tail=sentence("; ".join(filter(None, tail))),
    )
