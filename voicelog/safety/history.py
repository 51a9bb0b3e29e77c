"""What the rules need to know of a dog's earlier sessions, as one small frozen value.

Doubt is one-sided here too: a doubtful rep counts where it can only raise a finding (a
strong sign), and not where it would clear one (a vibration answered, a level answered).
Levels of another transmitter mean nothing here and are left out.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

from voicelog.analysis.session_digest import RepDigest, digest_session
from voicelog.analysis.workload import SessionWorkload, session_workload
from voicelog.model import FrozenModel, Session, Transmitter
from voicelog.model.domain import STIMULATION
from voicelog.safety.wear import wear_intervals

__all__ = [
    "ANSWERED",
    "History",
    "PastSession",
    "PastSign",
    "history_after",
    "history_of",
    "past_session",
]

ANSWERED = frozenset({"complied", "slow"})
"""The outcomes in which the dog did what was asked."""

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


def history_of(previous: Sequence[tuple[datetime | None, Session]], at: datetime | None) -> History:
    """What the earlier sessions of one dog, oldest first, come to before a session at `at`.

    Each comes with the moment it started, or None where no clock was known.
    """
    return history_after([past_session(started, session) for started, session in previous], at)


def past_session(
    started: datetime | None, session: Session, reps: Sequence[RepDigest] | None = None
) -> PastSession:
    """What a session that started at that moment leaves behind. `reps` are its reps in short, where
    they are known already."""
    unsure = {rep.number for rep in session.reps if rep.doubtful or rep.void}
    stimulated, vibrated, strong_to_vibrate = False, False, False
    strong: list[PastSign] = []
    skin: str | None = None
    turned: bool | None = None
    level: int | None = None
    last_press: tuple[int | None, str] | None = None
    for mark in session.marks:
        if mark.kind == "press":
            last_press = (mark.rep, mark.name)
            if mark.name in STIMULATION and isinstance(mark.value, int):
                level = mark.value
                stimulated |= mark.rep not in unsure
            vibrated |= mark.name == "vibrate" and mark.rep not in unsure
            turned = False
        elif mark.kind == "sign" and mark.value == "strong":
            here = last_press if last_press and last_press[0] == mark.rep else None
            pressed = here is not None and here[1] in STIMULATION
            strong_to_vibrate |= here is not None and here[1] == "vibrate"
            moment = _moment(started, session, mark.at_s)
            strong.append(PastSign(at=moment, sign=mark.name, level=level if pressed else None))
        elif mark.kind == "equipment" and mark.name == "skin":
            skin = str(mark.value)
        elif mark.kind == "equipment" and mark.name == "collar" and mark.value == "turned":
            turned = True
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
        worn=_worn(started, session),
        work=session_workload(digest_session(session).reps if reps is None else reps),
    )


def history_after(traces: Sequence[PastSession], at: datetime | None) -> History:
    """What the traces of one dog's earlier sessions, oldest first, come to at `at`."""
    at = at.replace(tzinfo=None) if at else None
    if not traces:
        return History(at=at)
    transmitter, last = traces[-1].transmitter, traces[-1].started
    answered: dict[str, int] = {}
    strong: list[PastSign] = []
    skin: str | None = None
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
        skin = skin if trace.skin is None else trace.skin
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
        skin=skin,
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


def _moment(started: datetime | None, session: Session, at_s: float) -> datetime | None:
    """Wall time as it was read at the field, so that clocks with and without a zone compare."""
    if started is None:
        return None
    return started.replace(tzinfo=None) + timedelta(seconds=max(0.0, at_s - session.start_s))


def _worn(started: datetime | None, session: Session) -> tuple[PastWear, ...]:
    stretches = []
    for stretch in wear_intervals(session):
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
