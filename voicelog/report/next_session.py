"""The next session in one line: as the plan has it, in the plan's words.

It is the humblest line of the summary. It never asks for a press. The one limit of a level that it
may carry is the plan's, which knows all sessions: nothing else on the summary names one. Where no
plan is known, as of a file of which nothing is kept, it speaks from its session alone.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from voicelog.analysis.open_matters import OpenMatter, stops_of
from voicelog.analysis.plan import Plan
from voicelog.analysis.reason import ReasonCode
from voicelog.model import Rep, Session
from voicelog.report.rep_counts import is_tap, sure
from voicelog.report.wording.matters import CLOSED_BY, earlier_words, matter_name
from voicelog.report.wording.reasons import bounds_words, one_line, reason_words
from voicelog.report.words import counted, date_words
from voicelog.safety.advice import PROFESSIONAL

__all__ = ["next_session"]

_BAD: frozenset[ReasonCode] = frozenset({"too young", "ceiling", "went against"})
"""Reasons for a session without the button that are told where no stop is: the first of them."""


def next_session(
    session: Session, matters: Sequence[OpenMatter], planned: Plan | None = None
) -> str:
    """One cautious sentence or two, and that it is for the trainer to decide.

    `matters` is the dog's list of open matters, `planned` its plan, whose words they are; without
    it only this session is known, and no limit is named.
    """
    if planned is None:
        return f"{_from_alone(session, matters)} From this session alone; you decide."
    return " ".join((*_as_planned(session, matters, planned), "You decide."))


def _as_planned(session: Session, matters: Sequence[OpenMatter], planned: Plan) -> Iterator[str]:
    """What the plan says, why where it is no session, and what stands in the way."""
    words = one_line(planned)
    yield f"{words[:1].upper()}{words[1:]}."
    stops = _stops(session, matters)
    for one in planned.why:
        if one.code == "skin to look at" or not planned.session or (not stops and one.code in _BAD):
            yield reason_words(one)
            break
    if stops:
        yield f"Open until {CLOSED_BY}: {_named(stops)}."
    elif planned.session and planned.button and _pressed(session):
        yield f"If the button is used ({planned.mode}): {bounds_words(planned)}."


def _from_alone(session: Session, matters: Sequence[OpenMatter]) -> str:
    stops = _stops(session, matters)
    if any(one.matter.kind == "aggression" for one in stops):
        return (
            f"No session until {PROFESSIONAL} has been asked about the growling, snapping or "
            "biting."
        )
    if stops:
        return f"No button next session, or no session, until {CLOSED_BY}: {_named(stops)}."
    strong = [
        sign
        for rep in session.reps
        if not rep.void
        for sign in rep.sign_marks
        if sign.class_ == "strong"
    ]
    if strong:
        names = ", ".join(dict.fromkeys(sign.sign for sign in strong))
        return f"No button next session: the session went badly for the dog ({names})."
    reps = _reps(session)
    if not reps:
        return "Nothing here to go on: work without the button."
    if not _pressed(session):
        return f"Again without a button: none was used in {counted(len(reps), 'rep')}."
    return "No button next session: one session is too little to name a limit."


def _stops(session: Session, matters: Sequence[OpenMatter]) -> list[OpenMatter]:
    """The stops that stand, this session's own first."""
    return sorted(stops_of(matters), key=lambda one: one.matter.session != session.id)


def _named(stops: Sequence[OpenMatter]) -> str:
    """The first of the stops, and how many more: "skin red on 3 May 2031, and 1 more"."""
    first = stops[0]
    name = matter_name(first.matter)
    day = "" if first.day is None else f" on {date_words(first.day)}"
    earlier = f" ({earlier_words(first)})" if first.earlier else ""
    more = "" if len(stops) == 1 else f", and {len(stops) - 1} more"
    return f"{name[0].lower()}{name[1:]}{day}{earlier}{more}"


def _reps(session: Session) -> list[Rep]:
    """The reps that count and of which the end was said."""
    counting = [rep for rep in session.reps if sure(rep) and not is_tap(rep)]
    return [rep for rep in counting if rep.outcome not in (None, "unknown")]


def _pressed(session: Session) -> bool:
    return any(rep.mode != "none" for rep in _reps(session))
