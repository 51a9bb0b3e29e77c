"""What the rules need to know of a dog's earlier sessions, as one small frozen value.

Doubt is one-sided here too: a doubtful rep or note counts where it can only raise a finding (a
strong sign, red skin), and not where it would clear one (a vibration answered, skin that is clear
again). What it raises is not sure: `History.sure` is the same without what is in doubt, and only
what the rules find with that is sure. In doubt is also what was said in a session without a date,
for a session of another recording: nobody knows which of the two came first.
Levels of another transmitter mean nothing here and are left out.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Container, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

from voicelog.analysis.session_digest import RepDigest, digest_session
from voicelog.analysis.workload import SessionWorkload, session_workload
from voicelog.model import FrozenModel, Mark, Session, Transmitter
from voicelog.model.domain import STIMULATION
from voicelog.safety.wear import WearSoFar

__all__ = [
    "ANSWERED",
    "BAD_SKIN",
    "History",
    "PastSession",
    "PastSign",
    "history_after",
    "history_of",
    "past_session",
]

ANSWERED = frozenset({"complied", "slow"})
"""The outcomes in which the dog did what was asked."""

BAD_SKIN = frozenset({"red", "sore"})
"""Skin under which no collar goes on."""

SESSIONS_LOOKED_BACK_ON = 20
"""Sessions whose work is looked back on."""


class PastSign(FrozenModel):
    """A strong sign of stress in an earlier session, and the level in force, if any."""

    at: datetime | None
    sign: str
    level: int | None = None


class History(FrozenModel):
    """A dog before a session that starts at `at`; empty for a dog never logged.

    `answered` maps a distraction ("" when not said) to the level last answered there.
    `worn_s` is the wear so far (s) on the day of `at`; `worn_since` is set when a collar on
    that day was never said to be off. `turned`: the collar was turned after the last press.
    `today`: earlier sessions of that day in which something was pressed.
    `recent` is the work of the last sessions on this transmitter, oldest first; `worked` counts
    the reps at each distraction that was said, over all sessions.
    `sure`: the same without what is in doubt, None where nothing is that bears on it.
    All moments are wall time as read at the field, without a zone.
    """

    at: datetime | None = None
    sessions: int = 0
    stimulated: int = 0
    vibrated: bool = False
    transmitter: Transmitter | None = None
    answered: Mapping[str, int] = {}
    strong: tuple[PastSign, ...] = ()
    strong_to_vibrate: bool = False
    skin: str | None = None
    worn_s: float = 0.0
    worn_since: datetime | None = None
    last_worn: datetime | None = None
    turned: bool = False
    days_since: int | None = None
    today: int = 0
    recent: tuple[SessionWorkload, ...] = ()
    worked: Mapping[str, int] = {}
    sure: History | None = None

    def same_day(self, at: datetime | None) -> bool:
        """Whether a moment lies on the day of this session, as far as that is known."""
        return at is not None and self.at is not None and at.date() == self.at.date()


class PastWear(FrozenModel):
    """A stretch of wear in wall time; `fitted` and `off` as in `voicelog.safety.wear`."""

    start: datetime
    end: datetime
    fitted: bool
    off: bool


class PastSession(FrozenModel):
    """What one session leaves behind for those after it; all that `History` is made of.

    `answered` maps a distraction ("" when not said) to the level last answered there.
    `turned`: whether the collar was turned after the last press, None when neither happened.
    `sure`: the same without what is in doubt, None where nothing is that bears on it.
    """

    started: datetime | None
    transmitter: Transmitter
    stimulated: bool = False
    vibrated: bool = False
    answered: Mapping[str, int] = {}
    strong: tuple[PastSign, ...] = ()
    strong_to_vibrate: bool = False
    skin: str | None = None
    turned: bool | None = None
    worn: tuple[PastWear, ...] = ()
    work: SessionWorkload = SessionWorkload()
    sure: PastSession | None = None


def history_of(previous: Sequence[tuple[datetime | None, Session]], at: datetime | None) -> History:
    """What the earlier sessions of one dog, oldest first, come to before a session at `at`.

    Each comes with the moment it started, or None where no clock was known.
    """
    return history_after([past_session(started, session) for started, session in previous], at)


def past_session(
    started: datetime | None,
    session: Session,
    reps: Sequence[RepDigest] | None = None,
    doubtful: Collection[str] = (),
) -> PastSession:
    """What a session that started at that moment leaves behind. `reps` are its reps in short, where
    they are known already; `doubtful` its entries of which nothing is left without doubt."""
    work = session_workload(digest_session(session).reps if reps is None else reps)
    left = _left(started, session, work, session.marks, doubtful)
    if not doubtful:
        return left
    certain = [mark for mark in session.marks if mark.entry not in doubtful]
    sure = _left(started, session, work, certain, ())
    sure = sure.model_copy(update={"strong_to_vibrate": left.strong_to_vibrate})
    return left if sure == left else left.model_copy(update={"sure": sure})


def _left(
    started: datetime | None,
    session: Session,
    work: SessionWorkload,
    marks: Sequence[Mark],
    doubtful: Container[str],
) -> PastSession:
    """What these marks of a session leave; those of `doubtful` entries clear nothing."""
    unsure = {rep.number for rep in session.reps if rep.doubtful or rep.void}
    stimulated, vibrated, strong_to_vibrate = False, False, False
    strong: list[PastSign] = []
    skin: str | None = None
    turned: bool | None = None
    level: int | None = None
    last_press: tuple[int | None, str] | None = None
    for mark in marks:
        clears = mark.entry not in doubtful
        if mark.kind == "press":
            last_press = (mark.rep, mark.name)
            if mark.name in STIMULATION and isinstance(mark.value, int):
                level = mark.value
                stimulated |= clears and mark.rep not in unsure
            vibrated |= mark.name == "vibrate" and clears and mark.rep not in unsure
            turned = False
        elif mark.kind == "sign" and mark.value == "strong":
            here = last_press if last_press and last_press[0] == mark.rep else None
            pressed = here is not None and here[1] in STIMULATION
            strong_to_vibrate |= here is not None and here[1] == "vibrate"
            moment = _moment(started, session, mark.at_s)
            strong.append(PastSign(at=moment, sign=mark.name, level=level if pressed else None))
        elif mark.kind == "equipment" and mark.name == "skin":
            skin = str(mark.value) if clears or mark.value in BAD_SKIN else skin
        elif mark.kind == "equipment" and mark.name == "collar" and mark.value == "turned":
            turned = True if clears else turned
    return PastSession(
        started=started,
        transmitter=session.dog.transmitter,
        stimulated=stimulated,
        vibrated=vibrated,
        answered={
            rep.distraction or "": rep.end_level
            for rep in session.reps
            if rep.outcome in ANSWERED
            and rep.mode in STIMULATION
            and rep.end_level is not None
            and rep.number not in unsure
        },
        strong=tuple(strong),
        strong_to_vibrate=strong_to_vibrate,
        skin=skin,
        turned=turned,
        worn=_worn(started, session, marks, doubtful),
        work=work,
    )


def history_after(
    traces: Sequence[PastSession], at: datetime | None, here: Sequence[PastSession] = ()
) -> History:
    """What the traces of one dog's earlier sessions, oldest first, come to at `at`; those `here`
    are of the same recording as the session at `at`, so they surely came before."""
    at = at.replace(tzinfo=None) if at else None
    whole = _history((*traces, *here), at)
    certain = (
        *(_without_order(one.sure or one, is_known=bool(at and one.started)) for one in traces),
        *(one.sure or one for one in here),
    )
    sure = _history(certain, at, certain=True)
    return whole if sure == whole else whole.model_copy(update={"sure": sure})


def _without_order(trace: PastSession, *, is_known: bool) -> PastSession:
    """The trace, without what it would raise where its place in time is not known."""
    if is_known or not (trace.strong or trace.skin in BAD_SKIN):
        return trace
    skin = None if trace.skin in BAD_SKIN else trace.skin
    return trace.model_copy(update={"strong": (), "skin": skin})


def _history(
    traces: Sequence[PastSession], at: datetime | None, *, certain: bool = False
) -> History:
    if not traces:
        return History(at=at)
    transmitter, last = traces[-1].transmitter, traces[-1].started
    answered: dict[str, int] = {}
    strong: list[PastSign] = []
    turned = False
    worked: Counter[str] = Counter()
    for trace in traces:
        for one in trace.work.worked:
            if one.distraction is not None:
                worked[one.distraction] += one.of
        same = trace.transmitter == transmitter
        if same:
            answered |= trace.answered
        strong += (
            sign if same else sign.model_copy(update={"level": None}) for sign in trace.strong
        )
        turned = turned if trace.turned is None else trace.turned
    return History(
        at=at,
        sessions=len(traces),
        stimulated=sum(trace.stimulated for trace in traces),
        vibrated=any(trace.vibrated for trace in traces),
        transmitter=transmitter,
        answered=answered,
        strong=tuple(strong),
        strong_to_vibrate=any(trace.strong_to_vibrate for trace in traces),
        skin=_skin(traces, certain=certain),
        turned=turned,
        days_since=None if last is None or at is None else (at.date() - last.date()).days,
        today=sum(
            (trace.stimulated or trace.vibrated)
            and trace.started is not None
            and at is not None
            and trace.started.date() == at.date()
            for trace in traces
        ),
        recent=tuple(t.work for t in traces if t.transmitter == transmitter)[
            -SESSIONS_LOOKED_BACK_ON:
        ],
        worked=dict(worked),
        **_wear(traces, at),
    )


def _skin(traces: Sequence[PastSession], *, certain: bool) -> str | None:
    """How the skin was said to be last. Where not all is `certain`, a session without a date does
    not clear what was bad on a day that is known; nor does any on the day on which it was bad
    (common practice, no source)."""
    skin, dated, day = None, False, None
    for trace in traces:
        on = None if trace.started is None else trace.started.date()
        if trace.skin in BAD_SKIN:
            skin, dated, day = trace.skin, trace.started is not None, on
        elif skin in BAD_SKIN and on is not None and on == day:
            continue
        elif trace.skin is not None and (certain or trace.started is not None or not dated):
            skin = trace.skin
    return skin


def _moment(started: datetime | None, session: Session, at_s: float) -> datetime | None:
    """Wall time as it was read at the field, so that clocks with and without a zone compare."""
    if started is None:
        return None
    return started.replace(tzinfo=None) + timedelta(seconds=max(0.0, at_s - session.start_s))


def _worn(
    started: datetime | None, session: Session, marks: Sequence[Mark], doubtful: Container[str]
) -> tuple[PastWear, ...]:
    stretches = []
    worn = WearSoFar()
    for mark in marks:
        worn.take(mark, is_sure=mark.entry not in doubtful)
    for stretch in worn.stretches(session):
        start = _moment(started, session, stretch.start_s)
        end = _moment(started, session, stretch.end_s)
        if start is not None and end is not None:
            stretches.append(PastWear(start=start, end=end, fitted=stretch.fitted, off=stretch.off))
    return tuple(stretches)


def _wear(traces: Sequence[PastSession], at: datetime | None) -> dict[str, Any]:
    """Wear on the day of `at`. A collar not said to be off was worn to its session's end,
    and on into the next session of that day unless it was fitted anew there."""
    worn_s = 0.0
    since: datetime | None = None
    last: datetime | None = None
    for stretch in (stretch for trace in traces for stretch in trace.worn):
        start = stretch.start
        if not stretch.fitted and since and last and since.date() == start.date():
            start = last
        else:
            since = start
        if at is not None and start.date() == at.date():
            worn_s += (stretch.end - start).total_seconds()
        last = stretch.end
        if stretch.off:
            since = None
    if since is not None and (at is None or since.date() != at.date()):
        since = None
    return {"worn_s": worn_s, "worn_since": since, "last_worn": last}
