"""A paper over weeks as one value: sections of worded lines, figures, and the reps behind them.

Builders (`progress_paper`, `plan_paper`, `kennel_paper`) word everything; the renderers
(`paper_text`, `paper_html`, the review page) only lay it out. Every line carries the ids of
the reps it rests on, and `Paper.refs` says where each is and where its sound is.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import Literal

from pydantic import Field

from voicelog.analysis.session_course import CourseMonth, CourseSession
from voicelog.analysis.session_digest import RepDigest, SessionDigest
from voicelog.model import CONTRACT_VERSION, FrozenModel
from voicelog.report.summary import FOOTER
from voicelog.report.words import clock_if_timed, date_words
from voicelog.safety.cautions import SHORT

__all__ = [
    "CAUTIONS",
    "FEW_REPS",
    "CourseColumn",
    "CourseFigure",
    "CoursePoint",
    "Figure",
    "Lane",
    "LineMark",
    "Paper",
    "PaperLine",
    "PaperSection",
    "SoundReference",
    "StripFigure",
    "StripRow",
    "SurvivalCurve",
    "TimesFigure",
    "every_ref",
    "refs_of",
]

CAUTIONS = SHORT

FEW_REPS = 10
"""Reps under which a line is shown as resting on few."""

LineMark = Literal["", "stop", "caution", "ready", "nearly", "not yet", "at the top", "yes", "no"]
"""What a line says at a glance; words say it too."""


class SoundReference(FrozenModel):
    """Where to listen for what a line rests on: the rep's session and number, and where in which
    recording it was said.

    Times are seconds (s) in the recording; `at` is the start as minutes:seconds, "" where it has no
    time. Number 0 is the whole session.
    """

    session: str
    day: str
    number: int
    at: str
    recording: str
    start_s: float
    end_s: float


class PaperLine(FrozenModel):
    """A line. `few`: it rests on so few reps that it is to be read as little; `level` indents;
    `detail`: only for who asks for more; `href`: the place in the page to which the words lead, for
    papers that are read there."""

    label: str
    words: str
    mark: LineMark = ""
    few: bool = False
    level: int = 0
    detail: bool = False
    reps: tuple[str, ...] = ()
    href: str = Field(default="", exclude=True)


Lane = Literal["strong sign", "stop", "open matter"]
"""What is marked of a session beside its numbers."""


class CoursePoint(FrozenModel):
    """One session in a picture over weeks: its numbers, the interval of the share answered unaided
    (None: no call), the same in words, and where the session is. `unaided` and `levels` are the
    words of a table's cells."""

    at: CourseSession
    interval: tuple[float, float] | None
    unaided: str
    levels: str
    noted: str
    marks: tuple[Lane, ...]
    ref: SoundReference

    @property
    def words(self) -> str:
        """The session in one sentence."""
        said = [f"unaided {self.unaided}" if self.at.asked else self.unaided, self.levels]
        said.append(self.noted)
        return f"{self.ref.day}: {'; '.join(filter(None, said))}."


class CourseColumn(FrozenModel):
    """One month in the picture of all months, and the same in words."""

    at: CourseMonth
    marks: tuple[Lane, ...]
    words: str


class CourseFigure(FrozenModel):
    """How often it came unaided over the levels used, both over one time axis.

    `points` are the newest of all `sessions`, oldest first, those without a date too, which no
    picture can place: `undated` of all; `last` is the day on which the axis ends; the levels are of
    the `mode`, those answered of the `drill`, both in words.
    """

    title: str
    points: tuple[CoursePoint, ...]
    sessions: int
    undated: int
    months: tuple[CourseColumn, ...]
    last: date
    drill: str
    mode: str
    ceiling: int | None = None


class StripRow(FrozenModel):
    """A dog's sessions in the calendar strip, oldest first; what lies before `since` was not
    read (None: all was)."""

    dog: str
    points: tuple[CoursePoint, ...]
    since: date | None


class StripFigure(FrozenModel):
    """The calendar strip of the kennel: a row a dog, so many days up to the day `last`."""

    title: str
    rows: tuple[StripRow, ...]
    last: date
    days: int


class SurvivalCurve(FrozenModel):
    """A line of the plot of times: the share not yet there at each time (s)."""

    name: str
    times: tuple[float, ...]
    share: tuple[float, ...]
    longest: float
    of: int


class TimesFigure(FrozenModel):
    """The curves of the times to come."""

    title: str
    curves: tuple[SurvivalCurve, ...]


Figure = CourseFigure | StripFigure | TimesFigure
"""What is drawn, as data; `session_plots_svg` draws it."""


class PaperSection(FrozenModel):
    """A heading and what stands under it."""

    title: str
    lines: tuple[PaperLine, ...] = ()
    figure: Figure | None = None
    note: str = ""


class Paper(FrozenModel):
    """A whole paper. `refs` has every rep that a line names."""

    format: int = CONTRACT_VERSION
    kind: Literal["progress", "plan", "kennel", "matters", "handover"]
    dog: str
    title: str
    day: str
    sections: tuple[PaperSection, ...]
    refs: Mapping[str, SoundReference] = {}
    changed: tuple[str, ...] = ()
    cautions: str = CAUTIONS
    footer: str = FOOTER


def refs_of(
    sections: Sequence[PaperSection], session_digests: Iterable[SessionDigest]
) -> dict[str, SoundReference]:
    """Where the reps are that the lines of these sections name. `session_digests` are those the
    paper was made of."""
    wanted = {rep for section in sections for line in section.lines for rep in line.reps}
    return {
        rep.id: _ref(session_digest, rep)
        for session_digest in session_digests
        for rep in session_digest.reps
        if rep.id in wanted
    }


def every_ref(session_digests: Iterable[SessionDigest]) -> dict[str, SoundReference]:
    """Where every rep is. `session_digests` may be of several dogs."""
    return {
        rep.id: _ref(session_digest, rep)
        for session_digest in session_digests
        for rep in session_digest.reps
    }


def _ref(session_digest: SessionDigest, rep: RepDigest) -> SoundReference:
    return SoundReference(
        session=session_digest.session,
        day=date_words(session_digest.day),
        number=rep.number,
        at=clock_if_timed(rep.start_s, rep.end_s),
        recording=session_digest.recording,
        start_s=rep.start_s,
        end_s=rep.end_s,
    )
