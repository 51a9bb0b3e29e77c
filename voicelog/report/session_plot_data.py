"""What the plots over weeks show, as data: levels, first calls and times by session."""

from __future__ import annotations

from collections.abc import Mapping

from voicelog.analysis.levels import Ceiling
from voicelog.analysis.response_times import SESSIONS_BEFORE, THESE_SESSIONS, ResponseTimes
from voicelog.analysis.session_scope import (
    SessionScope,
    all_reps,
    has_call_and_outcome,
    newest_mode,
    pressed_in,
)
from voicelog.analysis.statistics.proportion import Proportion, wilson_interval
from voicelog.analysis.statistics.survival import Survival
from voicelog.analysis.unaided import unaided
from voicelog.model import Mode
from voicelog.model.domain import FIND_LEVEL, STIMULATION
from voicelog.report.paper import Figure, FirstCallPoint, SessionLevels, SurvivalCurve
from voicelog.report.words import date_words

__all__ = ["MAX_SESSIONS_DRAWN", "calls_figure", "levels_figure", "times_figure"]

_OF_MODE: Mapping[Mode | None, str] = {
    "momentary": ", taps alone",
    "continuous": ", without taps",
}
MAX_SESSIONS_DRAWN = 40
"""Sessions that a plot shows at most, the newest."""


def levels_figure(scope: SessionScope, limit: Ceiling) -> Figure | None:
    """The levels of each session in the mode worked last, beside what no mode parts: the strong
    signs and the ceiling."""
    stairs, mode = [], newest_mode(scope.session_digests)
    for session_digest in scope.session_digests:
        reps = [r for r in session_digest.reps if r.state == "sure" and r.drill != FIND_LEVEL]
        pressed = [r for r in reps if pressed_in(r, mode)]
        came = sorted(max(r.levels) for r in pressed if r.came)
        strong = {
            s.level if s.level is not None else r.peak
            for r in session_digest.reps
            for s in r.signs
            if s.class_ == "strong" and r.state != "void"
        }
        if not reps:
            continue
        stairs.append(
            SessionLevels(
                day=date_words(session_digest.day),
                low=min((min(r.levels) for r in pressed), default=None),
                high=max((max(r.levels) for r in pressed), default=None),
                answered=float(came[len(came) // 2]) if came else None,
                strong=tuple(sorted(level for level in strong if level is not None)),
                reps=len(reps),
                pressed=len(pressed),
            )
        )
    if not any(one.high is not None for one in stairs):
        return None
    return Figure(
        kind="levels",
        title=f"Levels by session{_OF_MODE.get(mode, '') if _other_mode(scope, mode) else ''}",
        stairs=tuple(stairs[-MAX_SESSIONS_DRAWN:]),
        ceiling=limit.level,
    )


def _other_mode(scope: SessionScope, mode: Mode | None) -> bool:
    """Whether sure reps are left out, being in another mode or in both."""
    reps = [one.rep for one in all_reps(scope.session_digests) if one.rep.drill != FIND_LEVEL]
    return any(
        rep.state == "sure" and rep.mode in STIMULATION and not pressed_in(rep, mode)
        for rep in reps
    )


def calls_figure(scope: SessionScope, drill: str | None) -> Figure | None:
    calls = []
    for session_digest in scope.session_digests:
        reps = [rep for rep in session_digest.reps if has_call_and_outcome(rep, drill)]
        share = wilson_interval(sum(map(unaided, reps)), len(reps))
        if isinstance(share, Proportion):
            calls.append(
                FirstCallPoint(
                    day=date_words(session_digest.day),
                    share=share.share,
                    low=share.low,
                    high=share.high,
                    of=share.of,
                )
            )
    if len(calls) < 2:
        return None
    return Figure(
        kind="calls",
        title=f"First calls answered unaided, by session, {drill or 'drill not said'}",
        calls=tuple(calls[-MAX_SESSIONS_DRAWN:]),
        mark=0.8,
    )


def times_figure(one: ResponseTimes) -> Figure | None:
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
    return Figure(kind="times", title=title, curves=tuple(curves))
