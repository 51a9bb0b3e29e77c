"""Whether a dog answers more calls unaided than before, across distractions that rise meanwhile.

A dog that is moved up the ladder each time it does well seems to stand still: its share drops with
every step. So the change is looked for at the same distraction, in all of them at once: a logistic
model with one intercept for each distraction and one slope over the sessions, the session being
the cluster (`statistics.estimating_equations`). Distractions are categories, not a scale: with a
scale, a step that is harder than the scale has it would pass for a change of the dog.

- *better* or *worse*: the 95% interval of the slope holds no zero.
- *better though harder*: that cannot be told, but the share has risen (95% interval) without
  minding the distraction, and the distraction has risen as well. More distraction does not make a
  call easier, so the dog has changed at least so much.
- *not told*: neither, with the interval of what the change may be.

A distraction of one session, or at which all calls ended alike, says nothing of a change and takes
no part. Where the button was often not said, no change is told: it might be one of the telling.

What is told is the fitted share at one distraction (the one worked last) in its first and its last
session, since a slope carried further than a distraction was worked means nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import compress
from typing import Literal, NamedTuple

import numpy as np

from voicelog.analysis.recent_calls import last_calls
from voicelog.analysis.session_digest import RepDigest, SessionDigest
from voicelog.analysis.session_scope import RepInSession, distraction_rank, ids
from voicelog.analysis.statistics.estimating_equations import (
    Array,
    MarginalFit,
    fit_marginal_logistic,
)
from voicelog.analysis.statistics.unknown import Unknown
from voicelog.analysis.unaided import came_at_once, unaided
from voicelog.model import FrozenModel

__all__ = ["CallChange", "CallTrend", "call_trend", "change_of", "trend_of"]

CallChange = Literal["better", "better though harder", "worse", "not told"]

MIN_CALLS = 30
"""Calls below which no change is told (common practice, no source)."""
MIN_OF_EACH = 5
"""Calls answered unaided, and others, that there must be at least of each (as before)."""
MOST_UNSAID = 0.1
"""The share of calls that the dog came to at once without a word on the button, at most."""
SURE = 0.95


class CallTrend(FrozenModel):
    """The change over so many sessions and calls: fitted shares (0 to 1) at distraction `at`, in
    its first session and its last, and the interval of their difference (-1 to 1). `easiest` and
    `hardest` are the distractions of the first and the last session, None where none was said."""

    change: CallChange
    sessions: int
    of: int
    at: str | None
    first: float
    now: float
    low: float
    high: float
    easiest: str | None
    hardest: str | None
    reps: tuple[str, ...]


def call_trend(
    session_digests: Sequence[SessionDigest], drill: str | None = "recall"
) -> CallTrend | Unknown:
    """The change over a dog's last sessions. `session_digests`: all of them, in any order.

    `Unknown` where there are too few calls or sessions, where nearly all ended alike, or where
    the button was often not said.
    """
    return change_of(last_calls(session_digests, drill))


def change_of(calls: Sequence[RepInSession]) -> CallTrend | Unknown:
    """The same of calls that `last_calls` found."""
    if len(calls) < MIN_CALLS:
        return Unknown(code="too few calls", of=len(calls), needed=MIN_CALLS)
    unsaid = sum(came_at_once(one.rep) and one.rep.mode == "unknown" for one in calls)
    if unsaid > MOST_UNSAID * len(calls):
        return Unknown(code="button unsaid", of=len(calls), count=unsaid)
    every = _Calls.of(calls, unaided)
    same = _trend_of(every)
    if isinstance(same, CallTrend) and same.change != "not told":
        return same
    harder = _though_harder(every)
    return harder if harder is not None else same


def trend_of(
    calls: Sequence[RepInSession], yes: Callable[[RepDigest], bool]
) -> CallTrend | Unknown:
    """The change of any share of calls, oldest first, at the same distraction: *better* where it
    rose, *worse* where it fell. `Unknown` as `call_trend`, but for the button."""
    return _trend_of(_Calls.of(calls, yes))


def _trend_of(every: _Calls) -> CallTrend | Unknown:
    if unknown := every.unfit():
        return unknown
    kept = [at for at in dict.fromkeys(every.said) if every.tells(at)]
    some = every.only([at in kept for at in every.said])
    if unknown := some.unfit():
        return unknown
    latest = dict(zip(some.said, some.place.tolist(), strict=True))
    last = max(kept, key=lambda at: latest[at])
    fit = some.fit([some.place, *(some.at(at) for at in kept)])
    if isinstance(fit, Unknown):
        return fit
    here = some.place[some.at(last).astype(np.bool_)]
    now = np.array([here.max(), *(float(at == last) for at in kept)])
    back = np.zeros(len(now))
    back[0] = here.max() - here.min()
    found = _told(fit, now, back, SURE, some.calls)
    change: CallChange = "better" if found.low > 0 else "worse" if found.high < 0 else "not told"
    return found.model_copy(update={"change": change, "at": last})


class _Calls(NamedTuple):
    """Calls with what is asked of them: yes (1) or no (0), the place of their session among the
    sessions (0 to 1), and their distraction; in one order."""

    calls: tuple[RepInSession, ...]
    answers: Array
    place: Array
    said: tuple[str | None, ...]

    @classmethod
    def of(cls, calls: Sequence[RepInSession], yes: Callable[[RepDigest], bool]) -> _Calls:
        sessions = dict.fromkeys(one.session_digest.session for one in calls)
        order = {session: number for number, session in enumerate(sessions)}
        place = np.array([order[one.session_digest.session] for one in calls], dtype=np.float64)
        return cls(
            tuple(calls),
            np.array([yes(one.rep) for one in calls], dtype=np.float64),
            place / max(1, len(order) - 1),
            tuple(one.rep.distraction for one in calls),
        )

    def only(self, wanted: Sequence[bool]) -> _Calls:
        """Some of them."""
        kept = np.array(wanted, dtype=np.bool_)
        calls, said = compress(self.calls, wanted), compress(self.said, wanted)
        return _Calls(tuple(calls), self.answers[kept], self.place[kept], tuple(said))

    def at(self, distraction: str | None) -> Array:
        """1 for those at a distraction, 0 for the others."""
        return np.array([each == distraction for each in self.said], dtype=np.float64)

    def tells(self, distraction: str | None) -> bool:
        """Whether those at a distraction are of two sessions, and did not all end alike."""
        here = self.at(distraction).astype(np.bool_)
        answers, place = self.answers[here], self.place[here]
        return bool(place.min() < place.max() and answers.min() < answers.max())

    def unfit(self) -> Unknown | None:
        """Why they bear no change, or None."""
        of, count = len(self.answers), int(self.answers.sum())
        if of < MIN_CALLS:
            return Unknown(code="too few calls", of=of, needed=MIN_CALLS)
        if min(count, of - count) < MIN_OF_EACH:
            return Unknown(code="nearly all alike", of=of, count=count)
        return None

    def fit(self, columns: Sequence[Array]) -> MarginalFit | Unknown:
        """The logistic model of their answers on these columns."""
        sessions = [one.session_digest.session for one in self.calls]
        return fit_marginal_logistic(np.column_stack(columns), self.answers, sessions)


def _though_harder(every: _Calls) -> CallTrend | None:
    """The change with the distraction not minded, where it rose and the share did as well."""
    ranks = [distraction_rank(at) for at in every.said]
    told = [float(rank) for rank in ranks if rank is not None]
    if every.unfit() or len(told) < len(ranks) or len(set(told)) < 2 or not every.place.any():
        return None
    if float(np.corrcoef(every.place, told)[0, 1]) <= 0:
        return None
    fit = every.fit([every.place, np.ones(len(every.place))])
    if isinstance(fit, Unknown):
        return None
    found = _told(fit, np.array([1.0, 1.0]), np.array([1.0, 0.0]), SURE, every.calls)
    return found.model_copy(update={"change": "better though harder"}) if found.low > 0 else None


def _told(
    fit: MarginalFit, now: Array, back: Array, confidence: float, calls: Sequence[RepInSession]
) -> CallTrend:
    """The fit as shares: `now` is the last session's row, `back` leads from the first to it."""
    eta = float(now @ fit.beta)
    value, low, high = fit.interval(back, confidence)
    share = _share(eta)
    hardest = [
        max((c.rep.distraction for c in calls if c.session_digest is one), key=_rank)
        for one in (calls[0].session_digest, calls[-1].session_digest)
    ]
    return CallTrend(
        change="not told",
        sessions=fit.clusters,
        of=len(calls),
        at=None,
        first=_share(eta - value),
        now=share,
        low=share - _share(eta - low),
        high=share - _share(eta - high),
        easiest=hardest[0],
        hardest=hardest[1],
        reps=ids(calls),
    )


def _rank(distraction: str | None) -> int:
    rank = distraction_rank(distraction)
    return -1 if rank is None else rank


def _share(eta: float) -> float:
    return float(1 / (1 + np.exp(-np.clip(eta, -40, 40))))
