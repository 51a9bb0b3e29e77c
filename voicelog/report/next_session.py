"""The next session in one line, from this session and the list of open matters.

It is the humblest line of the summary: it knows one session, so it says so. It never asks for a
press and names no level to use: what holds for levels comes of all sessions and stands in the plan,
which this line might contradict. A stop that stands ends the matter.
"""

from __future__ import annotations

from collections.abc import Sequence

from voicelog.analysis.open_matters import OpenMatter, open_matters, stops_of
from voicelog.analysis.session_matters import session_matters
from voicelog.model import Finding, Rep, Session
from voicelog.model.dial import level_below
from voicelog.report.rep_counts import is_tap, sure
from voicelog.report.wording.matters import CLOSED_BY, matter_name
from voicelog.report.words import counted, date_words
from voicelog.safety.advice import PROFESSIONAL

__all__ = ["next_session"]


def next_session(
    session: Session,
    findings: Sequence[Finding],
    matters: Sequence[OpenMatter] | None = None,
) -> str:
    """One cautious sentence, and that it is for the trainer to decide.

    `matters` is the dog's list of open matters; None: what this session leaves, none closed.
    """
    if matters is None:
        matters = open_matters(session_matters(session, findings))
    return f"{_advice(session, matters)} One session only; you decide."


def _advice(session: Session, matters: Sequence[OpenMatter]) -> str:
    stops = stops_of(matters)
    if any(one.matter.kind == "aggression" for one in stops):
        return f"No session before {PROFESSIONAL} was asked about the growling, snapping or biting."
    if stops:
        name = matter_name(stops[0].matter)
        day = "" if stops[0].day is None else f" on {date_words(stops[0].day)}"
        more = "" if len(stops) == 1 else f", and {len(stops) - 1} more"
        return (
            f"No button next session, or no session, until {CLOSED_BY}: "
            f"{name[0].lower()}{name[1:]}{day}{more}."
        )
    counting = [rep for rep in session.reps if sure(rep) and not is_tap(rep)]
    reps = [rep for rep in counting if rep.outcome not in (None, "unknown")]
    if not reps:
        return "Nothing here to go on: as if new, no button first."
    if all(rep.mode == "none" for rep in reps):
        return f"Again without a button: none was used in {counted(len(reps), 'rep')}."
    barred = _barred(session)
    below = None if barred is None else level_below(session.dog.transmitter, barred)
    if barred is not None and below is None:
        return f"No button: no level is a step below {barred}, which went with stress."
    return "No button first; the plan, which knows all sessions, has what never to pass."


def _barred(session: Session) -> int | None:
    """The lowest level that went with stress, even in a rep to check."""
    stressed = [rep for rep in session.reps if rep.stress and not rep.void]
    return min((level for rep in stressed for level in _stress_levels(rep)), default=None)


def _stress_levels(rep: Rep) -> list[int]:
    """The levels at which a rep's stress showed; its highest where the signs do not say."""
    signs = [mark for mark in rep.sign_marks if mark.class_ in ("strong", "weak")]
    levels = [mark.level for mark in signs if mark.level is not None]
    return levels or ([] if rep.peak_level is None else [rep.peak_level])
