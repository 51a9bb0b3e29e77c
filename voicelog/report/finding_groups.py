"""Findings by rule: one line for all of a rule that stand alike, what is sure apart from the rest.

A page shows the lines; each opens to the findings themselves, with their reps and their basis.
"""

from __future__ import annotations

from collections.abc import Iterable

from voicelog.model import FrozenModel, Severity
from voicelog.report.notices import Notice, rise
from voicelog.report.state_words import (
    CHECK,
    SURE,
    VOID,
    StateWord,
    check_reps_words,
    void_reps_words,
)
from voicelog.report.words import numbers, sentence

__all__ = ["FindingGroup", "finding_groups"]

MOST_REPS = 8
"""Reps that a line names by number."""


class FindingGroup(FrozenModel):
    """The findings of one rule and weight that stand alike: sure, on an entry to check, or void.

    `line` says it all at a glance, `advice` what to do next time, each thing once; `key` tells the
    group from the others of its session.
    """

    key: str
    rule: str
    severity: Severity
    state: StateWord
    line: str
    advice: str
    notices: tuple[Notice, ...]


def finding_groups(notices: Iterable[Notice]) -> tuple[FindingGroup, ...]:
    """The groups in the order of their first notice. `notices` are those of one session."""
    groups: dict[tuple[str, Severity, StateWord], list[Notice]] = {}
    for notice in notices:
        state: StateWord = VOID if notice.struck else CHECK if notice.on_doubt else SURE
        groups.setdefault((notice.rule, notice.severity, state), []).append(notice)
    return tuple(
        FindingGroup(
            key=f"{rule}.{severity}.{state}",
            rule=rule,
            severity=severity,
            state=state,
            line=_line(group),
            advice=" ".join(dict.fromkeys(notice.advice for notice in group)),
            notices=tuple(group),
        )
        for (rule, severity, state), group in groups.items()
    )


def _line(group: list[Notice]) -> str:
    first = max(group, key=rise).message
    struck = all(notice.struck for notice in group)
    void = sorted({rep for notice in group for rep in notice.void_reps})
    check = sorted({rep for notice in group for rep in notice.check_reps})
    told = ("" if struck else void_reps_words(void), check_reps_words(check))
    states = "".join(f" {sentence(one)}" for one in told if one)
    if len(group) == 1:
        return f"{first}{states}"
    reps = sorted({rep for notice in group for rep in notice.reps})
    more = len(reps) - MOST_REPS
    if more > 1:
        named = f"reps {', '.join(map(str, reps[:MOST_REPS]))} and {more} more"
    else:
        named = numbers("rep", reps)
    return f"{first} {len(group)} times in all{': ' if named else ''}{named}.{states}"
