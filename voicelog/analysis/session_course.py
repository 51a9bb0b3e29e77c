"""Each session in a few numbers, for pictures over weeks: how often it came unaided, which levels.

One look at a dog over weeks asks two things: does it come unaided, and which levels were used. Both
are counted here session by session, so that every picture and its table say the same. Calls are
those of one drill on any transmitter, since no level is read of them; levels are those of one
transmitter alone, since another's mean something else. Only sure reps are counted; a strong sign
shows whatever the rep's state, unless it is void.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import date
from itertools import groupby
from statistics import median_low

from voicelog.analysis.session_digest import RepDigest, SessionDigest, by_date
from voicelog.analysis.session_scope import (
    SessionScope,
    has_call_and_outcome,
    newest_mode,
    pressed_in,
)
from voicelog.analysis.statistics.clustered_share import clustered_share
from voicelog.analysis.statistics.proportion import Proportion
from voicelog.analysis.unaided import asked, unaided
from voicelog.model import FrozenModel, Mode
from voicelog.model.domain import FIND_LEVEL, STIMULATION

__all__ = [
    "CourseMonth",
    "CourseSession",
    "SessionCourse",
    "course_months",
    "course_session",
    "session_course",
]


class CourseSession(FrozenModel):
    """One session. Of `asked` calls of the drill `unaided` were answered unaided; of `no_drill`
    more calls the drill was not said, and `other_drill` were in others. Of `reps` sure reps
    `pressed` had a level, those of the course's mode from `low` to `high` (None: none had, or it
    was on another transmitter); `other_mode`: some were in another mode, or in both.

    `answered` is the middle level of the reps that were answered in the drill and mode of the
    course (of an even number the lower middle one), `tried` how many there were. `strong` are the
    levels of strong signs on this transmitter; `strong_sign`: one showed, with a level or without.
    `stopped`: a rule called for a stop; `matter`: something of it is open still.
    """

    session: str
    recording: str
    day: date | None
    start_s: float
    end_s: float
    asked: int
    unaided: int
    no_drill: int
    other_drill: int
    reps: int
    pressed: int
    low: int | None
    high: int | None
    answered: int | None
    tried: int
    strong: tuple[int, ...]
    strong_sign: bool
    stopped: bool
    matter: bool
    other_transmitter: bool
    other_mode: bool


class CourseMonth(FrozenModel):
    """The sessions of one month. `share` is that of the calls answered unaided, None for no call;
    levels as in `CourseSession`, `answered` the middle one of the sessions'; `strong`, `stopped`
    and `matters` count sessions."""

    first: date
    sessions: int
    share: Proportion | None
    low: int | None
    high: int | None
    answered: int | None
    strong: int
    stopped: int
    matters: int


class SessionCourse(FrozenModel):
    """The sessions of a dog, oldest first. `drill` is that of the calls; `mode` that in which a
    level was used last, None where none was."""

    drill: str | None
    mode: Mode | None
    sessions: tuple[CourseSession, ...]


def session_course(
    session_digests: Sequence[SessionDigest],
    scope: SessionScope,
    drill: str | None,
    open_sessions: Collection[str] = (),
) -> SessionCourse:
    """The course of a dog.

    Args:
        session_digests: all its sessions in short, in any order.
        scope: those of them whose levels mean the same.
        drill: the drill of the calls and of the levels answered.
        open_sessions: the ids of sessions of which a matter is open.
    """
    same = {one.session for one in scope.session_digests}
    mode = newest_mode(scope.session_digests)
    return SessionCourse(
        drill=drill,
        mode=mode,
        sessions=tuple(
            course_session(one, drill, mode, one.session in open_sessions, one.session in same)
            for one in by_date(session_digests)
        ),
    )


def course_session(
    session_digest: SessionDigest,
    drill: str | None,
    mode: Mode | None = None,
    matter: bool = False,
    same_transmitter: bool = True,
) -> CourseSession:
    """A `session_digest` in numbers: calls of a `drill`, levels answered in it and in a `mode`.
    `matter`: something of it is open; without `same_transmitter` no level of it is given."""
    reps = session_digest.reps
    sure = [rep for rep in reps if rep.state == "sure" and rep.drill != FIND_LEVEL]
    calls = [rep for rep in reps if has_call_and_outcome(rep, drill)]
    elsewhere = [one.drill for one in sure if asked(one) and one.drill != drill]
    pressed = [rep for rep in sure if _pressed(rep)]
    of_mode = [rep for rep in pressed if pressed_in(rep, mode)]
    tried = [rep for rep in of_mode if rep.drill == drill]
    came = [max(rep.levels) for rep in tried if rep.came]
    signs = [
        sign.level if sign.level is not None else rep.peak
        for rep in reps
        if rep.state != "void"
        for sign in rep.signs
        if sign.class_ == "strong"
    ]
    shown = of_mode if same_transmitter else []
    return CourseSession(
        session=session_digest.session,
        recording=session_digest.recording,
        day=session_digest.day,
        start_s=session_digest.start_s,
        end_s=session_digest.end_s,
        asked=len(calls),
        unaided=sum(map(unaided, calls)),
        no_drill=sum(one is None for one in elsewhere),
        other_drill=sum(one is not None for one in elsewhere),
        reps=len(sure),
        pressed=len(pressed),
        low=min((min(rep.levels) for rep in shown), default=None),
        high=max((max(rep.levels) for rep in shown), default=None),
        answered=median_low(came) if came and same_transmitter else None,
        tried=len(tried) if same_transmitter else 0,
        strong=tuple(sorted({level for level in signs if level is not None}))
        if same_transmitter
        else (),
        strong_sign=bool(signs),
        stopped=bool(session_digest.stops),
        matter=matter,
        other_transmitter=not same_transmitter,
        other_mode=len(of_mode) < len(pressed),
    )


def course_months(sessions: Sequence[CourseSession]) -> tuple[CourseMonth, ...]:
    """The months in which there was a session, oldest first; sessions without a date are in none.
    The share's interval minds the sessions. `sessions` are oldest first."""
    found = []
    dated = [one for one in sessions if one.day is not None]
    for first, each in groupby(dated, key=_month):
        some = list(each)
        share = clustered_share([(one.unaided, one.asked) for one in some])
        answered = [one.answered for one in some if one.answered is not None]
        found.append(
            CourseMonth(
                first=first,
                sessions=len(some),
                share=share if isinstance(share, Proportion) else None,
                low=min((one.low for one in some if one.low is not None), default=None),
                high=max((one.high for one in some if one.high is not None), default=None),
                answered=median_low(answered) if answered else None,
                strong=sum(one.strong_sign for one in some),
                stopped=sum(one.stopped for one in some),
                matters=sum(one.matter for one in some),
            )
        )
    return tuple(found)


def _month(one: CourseSession) -> date:
    return date.min if one.day is None else one.day.replace(day=1)


def _pressed(rep: RepDigest) -> bool:
    return (
        rep.state == "sure"
        and rep.drill != FIND_LEVEL
        and rep.mode in STIMULATION
        and bool(rep.levels)
    )
