"""What the pictures over weeks show, as data, each session with its words: the course of a dog, the
calendar strip of the kennel, the times to come."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, timedelta

from voicelog.analysis.kennel import KENNEL_SESSIONS, Kennel
from voicelog.analysis.open_matters import standing
from voicelog.analysis.response_times import SESSIONS_BEFORE, THESE_SESSIONS, ResponseTimes
from voicelog.analysis.session_course import (
    CourseMonth,
    CourseSession,
    course_months,
    course_session,
    session_course,
)
from voicelog.analysis.session_digest import SessionDigest, by_date
from voicelog.analysis.session_scope import SessionScope
from voicelog.analysis.statistics.clustered_share import clustered_share
from voicelog.analysis.statistics.proportion import Proportion
from voicelog.analysis.statistics.survival import Survival
from voicelog.report.paper import (
    CourseColumn,
    CourseFigure,
    CoursePoint,
    Lane,
    SoundReference,
    StripFigure,
    StripRow,
    SurvivalCurve,
    TimesFigure,
)
from voicelog.report.words import clean, clock, counted, date_words, month_words

__all__ = ["STRIP_DAYS", "course_figure", "strip_figure", "times_figure"]

STRIP_DAYS = 42
"""Days of the calendar strip."""

MOST_POINTS = 400
"""Sessions, the newest, of which a figure has each: more than a picture can hold, or a table."""

NEAR_DAYS = 28
"""Days after the last session for which the axis goes on to today, however few sessions were."""

_MODES = {"momentary": "taps", "continuous": "continuous"}


def course_figure(
    session_digests: Sequence[SessionDigest],
    scope: SessionScope,
    drill: str | None,
    ceiling: int | None = None,
    today: date | None = None,
) -> CourseFigure | None:
    """The course of a dog; None where no session has a date, or none a call or a level.

    Args:
        session_digests: all its sessions in short, in any order.
        scope: those whose levels mean the same, with what is open.
        drill: the drill of the calls.
        ceiling: the level never to go above.
        today: the day as of which it is said; the axis ends there, unless that is far off.
    """
    still = {one.matter.session for one in standing(scope.matters)}
    course = session_course(session_digests, scope, drill, still)
    days = [one.day for one in course.sessions if one.day is not None]
    if not days or not any(one.asked or one.pressed for one in course.sessions):
        return None
    name = drill or "drill not said"
    used = any(one.pressed for one in course.sessions)
    levels = ", and the levels used" if used else ""
    return CourseFigure(
        title=f"Calls answered unaided ({name}){levels}, by session",
        points=tuple(_point(one, levels=used) for one in course.sessions[-MOST_POINTS:]),
        sessions=len(course.sessions),
        undated=sum(one.day is None for one in course.sessions),
        months=tuple(map(_column, course_months(course.sessions))),
        last=_end(days, today),
        drill=name,
        mode="" if course.mode is None else _MODES.get(course.mode, course.mode),
        ceiling=ceiling,
    )


def strip_figure(
    found: Kennel, session_digests: Mapping[str, Sequence[SessionDigest]]
) -> StripFigure | None:
    """The last weeks of all dogs, in the kennel's order; None where no dog was worked in them.

    `found` is the kennel, `session_digests` are each dog's last sessions by its name, in any order.
    """
    first = found.day - timedelta(days=STRIP_DAYS - 1)
    rows = []
    for dog in found.dogs:
        own = by_date(session_digests.get(dog.dog, ()))
        read = own[-KENNEL_SESSIONS:]
        points = [
            _point(course_session(one, "recall", matter=one.session in dog.still), levels=False)
            for one in read
            if one.day is not None and first <= one.day <= found.day
        ]
        since = read[0].day if len(own) >= KENNEL_SESSIONS else None
        rows.append(
            StripRow(
                dog=clean(dog.dog),
                points=tuple(points),
                since=since if since is not None and since > first else None,
            )
        )
    if not any(row.points for row in rows):
        return None
    return StripFigure(
        title="The last weeks, day by day, recalls",
        rows=tuple(rows),
        last=found.day,
        days=STRIP_DAYS,
    )


def times_figure(one: ResponseTimes) -> TimesFigure | None:
    """The curves of the times to come; None where there is none. `one` is of a drill."""
    curves = [
        SurvivalCurve(
            name="now" if group.group == THESE_SESSIONS else "before",
            times=group.curve.times,
            share=group.curve.share,
            longest=group.curve.longest,
            of=group.curve.of,
        )
        for group in one.groups
        if group.what == "come"
        and group.group in (THESE_SESSIONS, SESSIONS_BEFORE)
        and isinstance(group.curve, Survival)
    ]
    if not curves:
        return None
    title = f"Share not yet there, {one.drill or 'drill not said'}"
    return TimesFigure(title=title, curves=tuple(curves))


# --- words -----------------------------------------------------------------------------


def _point(one: CourseSession, *, levels: bool = True) -> CoursePoint:
    """A session with its words; without `levels` where there are
    none at all, or several transmitters may be meant."""
    share = clustered_share([(one.unaided, one.asked)])
    interval = (share.low, share.high) if isinstance(share, Proportion) else None
    marks = _marks(one.strong_sign, one.stopped, one.matter)
    return CoursePoint(
        at=one,
        interval=interval,
        unaided=_unaided_words(one),
        levels=_levels_words(one) if levels else "",
        noted=_noted(marks, one.strong if levels else ()),
        marks=marks,
        ref=SoundReference(
            session=one.session,
            day=date_words(one.day),
            number=0,
            at=clock(one.start_s),
            recording=one.recording,
            start_s=one.start_s,
            end_s=one.end_s,
        ),
    )


def _unaided_words(one: CourseSession) -> str:
    """How many calls were answered unaided; where none counts, why: "no call" is none at all."""
    if one.asked:
        more = f" ({one.no_drill} more, drill not said)" if one.no_drill else ""
        return f"{one.unaided} of {counted(one.asked, 'call')}{more}"
    if one.no_drill:
        return f"no call with its drill said ({one.no_drill} without)"
    if one.other_drill:
        return f"no call in this drill ({one.other_drill} in others)"
    return "no call"


def _levels_words(one: CourseSession) -> str:
    if one.other_transmitter:
        return "levels of another transmitter"
    if one.low is None or one.high is None:
        return "levels of another mode" if one.other_mode else "no level"
    span = _span_words(one.low, one.high)
    if one.answered is not None:
        span = f"{span}, answered {one.answered}"
    elif one.tried:
        span = f"{span}, none answered"
    return f"{span}, others of another mode" if one.other_mode else span


def _marks(strong: int, stopped: int, matters: int) -> tuple[Lane, ...]:
    """Which marks there are, of how many sessions (or whether) there was each."""
    counts: dict[Lane, int] = {"strong sign": strong, "stop": stopped, "open matter": matters}
    return tuple(lane for lane, many in counts.items() if many)


def _noted(marks: Sequence[Lane], strong: Sequence[int]) -> str:
    at = f" at {', '.join(map(str, strong))}" if strong else ""
    return ", ".join(f"{mark}{at if mark == 'strong sign' else ''}" for mark in marks)


def _column(one: CourseMonth) -> CourseColumn:
    said = [counted(one.sessions, "session")]
    if one.share is not None:
        said.append(f"unaided {one.share.count} of {counted(one.share.of, 'call')}")
    if one.low is not None and one.high is not None:
        middle = "" if one.answered is None else f", answered {one.answered}"
        said.append(f"{_span_words(one.low, one.high)}{middle}")
    marks = _marks(one.strong, one.stopped, one.matters)
    many = {"strong sign": one.strong, "stop": one.stopped, "open matter": one.matters}
    said += [f"{mark} in {counted(many[mark], 'session')}" for mark in marks]
    words = f"{month_words(one.first)} {one.first.year}: {'; '.join(said)}."
    return CourseColumn(at=one, marks=marks, words=words)


def _span_words(low: int, high: int) -> str:
    return f"level {low}" if low == high else f"levels {low} to {high}"


def _end(days: Sequence[date], today: date | None) -> date:
    """The day on which the axis ends: today, unless it is long past the last session."""
    first, last = min(days), max(days)
    if today is None or today <= last:
        return last
    near = max(NEAR_DAYS, (last - first).days)
    return today if (today - last).days <= near else last
