"""The next session in one line, from this session, the list of open matters and the plan.

It is the humblest line of the summary. It never asks for a press. The one limit of a level that it
may carry is the plan's, which knows all sessions: nothing else on the summary names one. A stop
that stands ends the matter.
"""

from __future__ import annotations

from collections.abc import Sequence

from voicelog.analysis.open_matters import OpenMatter, stops_of
from voicelog.analysis.plan import Plan
from voicelog.model import Session
from voicelog.report.rep_counts import is_tap, sure
from voicelog.report.wording.matters import CLOSED_BY, earlier_words, matter_name
from voicelog.report.wording.reasons import bounds_words
from voicelog.report.words import counted, date_words
from voicelog.safety.advice import PROFESSIONAL

__all__ = ["next_session"]


def next_session(
    session: Session, matters: Sequence[OpenMatter], planned: Plan | None = None
) -> str:
    """One cautious sentence or two, and that it is for the trainer to decide.

    `matters` is the dog's list of open matters, `planned` its plan; without it only this session
    is known, and no limit is named.
    """
    end = "One session only; you decide." if planned is None else "You decide."
    return f"{_advice(session, matters, planned)} {end}"


def _advice(session: Session, matters: Sequence[OpenMatter], planned: Plan | None) -> str:
    stops = sorted(stops_of(matters), key=lambda one: one.matter.session != session.id)
    if any(one.matter.kind == "aggression" for one in stops):
        return (
            f"No session until {PROFESSIONAL} has been asked about the growling, snapping or "
            "biting."
        )
    if stops:
        name = matter_name(stops[0].matter)
        day = "" if stops[0].day is None else f" on {date_words(stops[0].day)}"
        day += f" ({earlier_words(stops[0])})" if stops[0].earlier else ""
        more = "" if len(stops) == 1 else f", and {len(stops) - 1} more"
        return (
            f"No button next session, or no session, until {CLOSED_BY}: "
            f"{name[0].lower()}{name[1:]}{day}{more}."
        )
    counting = [rep for rep in session.reps if sure(rep) and not is_tap(rep)]
    reps = [rep for rep in counting if rep.outcome not in (None, "unknown")]
    if not reps:
        return "Nothing here to go on: begin as if new, without the button."
    if all(rep.mode == "none" for rep in reps):
        return f"Again without a button: none was used in {counted(len(reps), 'rep')}."
    if planned is None:
        return "No button first; see the plan."
    if not planned.button:
        return "No button next session: see the plan."
    return f"No button first. If it is used ({planned.mode}): {bounds_words(planned)}."
