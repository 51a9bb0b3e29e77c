"""What a trainer asks her data next, each question with an interval or why there is none.

- *fair chance*: of the calls with a press, how many gave the dog its time to answer before it.
- *weaning from the button*, and *from vibrate*: is it used in fewer calls than before, at the same
  distraction (`call_trend`).
- *new place*: the first three calls in a place that the dog had not been worked in, against those
  of the nearest session at home, the place it was worked in most.
- *another handler*: the two who called it most, each with this dog.
- *after a strong sign*: the ten calls after it against the ten before.
- *end of a session*: its last third against its first.
- *distance*: the calls farther off than the middle distance against the others.
- *rewards*: of the calls it came to, how many had a reward on record.

All but the first, the second and the last compare shares of calls answered unaided
(`statistics.share_difference`), at the same distraction and with the session as cluster. They look
back on the last `QUESTION_SESSIONS` sessions, on any transmitter, since no level is read. None of
it is an experiment: who was called when and where was the trainer's choice.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import groupby
from typing import Literal

from voicelog.analysis.call_trend import CallTrend, trend_of
from voicelog.analysis.session_digest import RepDigest, SessionDigest, by_date
from voicelog.analysis.session_scope import (
    RepInSession,
    distraction_rank,
    has_call_and_outcome,
    ids,
    reps_that,
)
from voicelog.analysis.statistics.clustered_share import clustered_share
from voicelog.analysis.statistics.proportion import Proportion
from voicelog.analysis.statistics.share_difference import (
    GroupedAnswer,
    ShareDifference,
    share_difference,
)
from voicelog.analysis.statistics.unknown import Unknown
from voicelog.analysis.unaided import stimulated, unaided
from voicelog.model import FrozenModel, TimeInterval
from voicelog.model.domain import STIMULATION

__all__ = ["QUESTION_SESSIONS", "Answer", "Question", "questions"]

Question = Literal[
    "fair chance",
    "weaning from the button",
    "weaning from vibrate",
    "new place",
    "another handler",
    "after a strong sign",
    "end of a session",
    "distance",
    "rewards",
]

QUESTION_SESSIONS = 100
"""Sessions that questions look back on."""
FIRST_CALLS = 3
"""Calls that are the first ones in a new place."""
AROUND = 10
"""Calls before and after a strong sign that are compared."""
MIN_PRESSES = 6
"""Calls with a press that was timed below which no share of them is told."""
SHORT = 6
"""Calls of a session from which its thirds are told apart."""


class Answer(FrozenModel):
    """A question and what the data say. `names` are what is compared, the first against the second;
    `middle_m` the distance (m) that parts them. Of a fair chance, `unclear` are the calls of which
    it cannot be told, `untimed` those of which call and press were not said apart."""

    question: Question
    result: Proportion | ShareDifference | CallTrend | Unknown
    names: tuple[str, ...] = ()
    middle_m: float | None = None
    unclear: int = 0
    untimed: int = 0
    reps: tuple[str, ...]


def questions(
    session_digests: Sequence[SessionDigest],
    answer_s: float,
    mostly: float,
    drill: str | None = "recall",
) -> tuple[Answer, ...]:
    """The answers, in the order of `Question`.

    Args:
        session_digests: all the dog's sessions, in any order.
        answer_s: seconds that a dog is given to answer before the button.
        mostly: the share of the time that may have passed that has to lie on one side of it.
        drill: the calls that are asked about.
    """
    ordered = by_date(session_digests)
    calls = reps_that(ordered[-QUESTION_SESSIONS:], lambda rep: has_call_and_outcome(rep, drill))
    return (
        _fair_chance(calls, answer_s, mostly),
        _weaning("weaning from the button", calls, lambda rep: rep.mode in STIMULATION),
        _weaning("weaning from vibrate", calls, lambda rep: rep.mode in ("vibrate", "tone")),
        _new_place(ordered, calls),
        _handlers(calls),
        _after_strong(calls),
        _thirds(calls),
        _distance(calls),
        _rewards(calls),
    )


# --- each --------------------------------------------------------------------------------


def _fair_chance(calls: Sequence[RepInSession], answer_s: float, mostly: float) -> Answer:
    """Whether most of the time that may have passed lies on the right side of `answer_s`."""
    pressed = [one for one in calls if stimulated(one.rep)]
    spans = [
        (one, TimeInterval(*one.rep.answer_s)) for one in pressed if one.rep.answer_s is not None
    ]
    fair = {one.rep.id for one, span in spans if span.share_above(answer_s) >= mostly}
    not_fair = {one.rep.id for one, span in spans if span.share_below(answer_s) >= mostly}
    told = [one for one, _ in spans if one.rep.id in fair | not_fair]
    result = _share(told, lambda rep: rep.id in fair)
    if len(told) < MIN_PRESSES:
        result = Unknown(code="too few presses", of=len(told), needed=MIN_PRESSES)
    return Answer(
        question="fair chance",
        result=result,
        unclear=len(spans) - len(told),
        untimed=len(pressed) - len(spans),
        reps=ids(told),
    )


def _weaning(
    question: Question, calls: Sequence[RepInSession], used: Callable[[RepDigest], bool]
) -> Answer:
    known = [one for one in calls if one.rep.mode != "unknown"]
    if not any(used(one.rep) for one in known):
        return Answer(question=question, result=Unknown(code="none yet"), reps=())
    return Answer(question=question, result=trend_of(known, used), reps=ids(known))


def _new_place(ordered: Sequence[SessionDigest], calls: Sequence[RepInSession]) -> Answer:
    places = Counter(one.rep.location for one in calls if one.rep.location)
    if len(places) < 2:
        return Answer(question="new place", result=Unknown(code="one only"), reps=())
    home = places.most_common(1)[0][0]
    met = {home}
    at_home = [one.session for one in ordered if any(rep.location == home for rep in one.reps)]
    order = {one.session: number for number, one in enumerate(ordered)}
    by_session = _by_session(calls)
    first: list[RepInSession] = []
    against: dict[str, None] = {}
    for session_digest in ordered:
        new = {rep.location for rep in session_digest.reps if rep.location} - met
        met |= new
        here = by_session.get(session_digest.session, [])
        for place in sorted(new):
            some = [one for one in here if one.rep.location == place][:FIRST_CALLS]
            if some and order[session_digest.session] > 0 and at_home:
                first += some
                nearest = min(at_home, key=lambda s: abs(order[s] - order[session_digest.session]))
                against[nearest] = None
    others = [
        one
        for session in against
        for one in by_session.get(session, [])
        if one.rep.location == home
    ]
    return _compared("new place", first, others, ("new place", home))


def _handlers(calls: Sequence[RepInSession]) -> Answer:
    often = Counter(one.rep.handler for one in calls if one.rep.handler).most_common(2)
    if len(often) < 2:
        return Answer(question="another handler", result=Unknown(code="one only"), reps=())
    names = tuple(name for name, _ in often)
    groups = [[one for one in calls if one.rep.handler == name] for name in names]
    return _compared("another handler", groups[0], groups[1], names)


def _after_strong(calls: Sequence[RepInSession]) -> Answer:
    """A call counts after the last strong sign before it, else before the next one; the call with
    the sign is in neither."""
    strong = [number for number, one in enumerate(calls) if one.rep.strong]
    if not strong:
        return Answer(question="after a strong sign", result=Unknown(code="none yet"), reps=())
    after, before = [], []
    for number, one in enumerate(calls):
        if one.rep.strong:
            continue
        if any(0 < number - sign <= AROUND for sign in strong):
            after.append(one)
        elif any(0 < sign - number <= AROUND for sign in strong):
            before.append(one)
    return _compared("after a strong sign", after, before, ("after", "before"))


def _thirds(calls: Sequence[RepInSession]) -> Answer:
    first, last = [], []
    for some in _by_session(calls).values():
        third = len(some) // 3
        if len(some) >= SHORT:
            first += some[:third]
            last += some[-third:]
    return _compared("end of a session", last, first, ("last third", "first third"))


def _distance(calls: Sequence[RepInSession]) -> Answer:
    said = sorted(one.rep.distance_m for one in calls if one.rep.distance_m is not None)
    if len(set(said)) < 2:
        return Answer(question="distance", result=Unknown(code="one only"), reps=())
    middle = said[(len(said) - 1) // 2]
    if middle == said[-1]:
        middle = max(each for each in said if each < middle)
    known = [(one, one.rep.distance_m) for one in calls if one.rep.distance_m is not None]
    far = [one for one, metres in known if metres > middle]
    near = [one for one, metres in known if metres <= middle]
    found = _compared("distance", far, near, ("farther", "nearer"))
    return found.model_copy(update={"middle_m": middle})


def _rewards(calls: Sequence[RepInSession]) -> Answer:
    came = [one for one in calls if one.rep.came]
    return Answer(
        question="rewards", result=_share(came, lambda rep: bool(rep.rewards)), reps=ids(came)
    )


# --- within ------------------------------------------------------------------------------


def _by_session(calls: Iterable[RepInSession]) -> dict[str, list[RepInSession]]:
    return {
        session: list(some)
        for session, some in groupby(calls, key=lambda one: one.session_digest.session)
    }


def _share(calls: Sequence[RepInSession], yes: Callable[[RepDigest], bool]) -> Proportion | Unknown:
    return clustered_share(
        [(sum(yes(one.rep) for one in some), len(some)) for some in _by_session(calls).values()]
    )


def _compared(
    question: Question,
    first: Sequence[RepInSession],
    second: Sequence[RepInSession],
    names: tuple[str, ...],
) -> Answer:
    answers = (*_grouped(first, first=True), *_grouped(second, first=False))
    return Answer(
        question=question,
        result=share_difference(answers),
        names=names,
        reps=ids((*first, *second)),
    )


def _grouped(calls: Sequence[RepInSession], *, first: bool) -> Iterator[GroupedAnswer]:
    for one in calls:
        at = distraction_rank(one.rep.distraction)
        yield GroupedAnswer(first, at, one.session_digest.session, unaided(one.rep))
