"""What came before what: intervals between the moments that were said of a rep.

Each moment lies within the narrator's error e of its word, so the time from one word to
another, d seconds later, is [d - 2e, d + 2e] (interval arithmetic; the error itself is common
practice, no source). A length of time is cut off at 0. Two words of one breath have the same
moment, and nothing is known of what lies between them.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from voicelog.model import PressTimes, Rep, RepIntervals, RepTimes, TimeInterval
from voicelog.model.grown import Grown, same_until

__all__ = ["RepTimesWalk", "between", "rep_intervals", "time_reps"]


def between(from_s: float, to_s: float, error_s: float) -> TimeInterval:
    """The time (s) from one said moment to another, below 0 where the second was earlier.

    `error_s` (s, 0 or more) is how far each may lie from its word.
    """
    return TimeInterval(to_s - from_s - 2 * error_s, to_s - from_s + 2 * error_s)


def rep_intervals(
    times: RepTimes, error_s: float, *, start_s: float, strong_at_s: float | None = None
) -> RepIntervals:
    """The intervals of a rep that began at `start_s`, to a thousandth of a second.

    `strong_at_s` is the moment of the last strong sign before it, if any.
    """
    return RepIntervals(
        error_s=error_s,
        answer_time_s=_answer_time(times, error_s),
        stimulus_after_turn_s=_stimulus_after(times, times.turned_at_s, error_s),
        stimulus_after_arrival_s=_stimulus_after(times, times.arrived_at_s, error_s),
        stimulus_total_s=_stimulus_after(times, None, error_s, whole=True),
        rest_after_strong_s=(
            None if strong_at_s is None else _length(between(strong_at_s, start_s, error_s))
        ),
    )


def time_reps(reps: Sequence[Rep], error_s: float) -> tuple[Rep, ...]:
    """The reps of one session in order, each with its intervals.

    A strong sign counts in a doubtful or void rep too: the dog needs its rest all the same.
    """
    return tuple(RepTimesWalk().timed(tuple(reps), error_s))


class RepTimesWalk:
    """The reps of one session with their intervals, each time there are more of them."""

    def __init__(self) -> None:
        self._error_s = math.nan
        self._reps: Sequence[Rep] = ()
        self._timed: Grown[Rep] = Grown()
        self._strong_at_s: Grown[float | None] = Grown((None,))
        self._known: dict[str, tuple[Rep, float | None, Rep]] = {}

    def timed(self, reps: Sequence[Rep], error_s: float) -> Grown[Rep]:
        """As `time_reps`; what is known of the first reps, where those are the same, stays."""
        if error_s != self._error_s:
            self._reps, self._known = (), {}
        kept = same_until(reps, self._reps)
        timed: list[Rep] = []
        strong: list[float | None] = []
        at_s = self._strong_at_s[kept]
        for rep in reps[kept:]:
            known = self._known.get(rep.id)
            if known is None or known[0] is not rep or known[1] != at_s:
                intervals = rep_intervals(rep.times, error_s, start_s=rep.start_s, strong_at_s=at_s)
                made = rep.model_copy(update={"intervals": intervals})
                known = self._known[rep.id] = rep, at_s, made
            timed.append(known[2])
            for mark in rep.sign_marks:
                if mark.class_ == "strong":
                    at_s = mark.at_s if at_s is None else max(at_s, mark.at_s)
            strong.append(at_s)
        self._error_s, self._reps = error_s, reps
        self._timed = self._timed.then(kept, timed)
        self._strong_at_s = self._strong_at_s.then(kept + 1, strong)
        return self._timed


def _answer_time(times: RepTimes, error_s: float) -> TimeInterval | None:
    if times.cue_at_s is None or not times.presses:
        return None
    pressed_s = times.presses[0].on_at_s
    if pressed_s == times.cue_at_s:
        return None
    return _length(between(times.cue_at_s, pressed_s, error_s))


def _stimulus_after(
    times: RepTimes, moment_s: float | None, error_s: float, *, whole: bool = False
) -> TimeInterval | None:
    """The stimulus after a moment, or in the `whole` rep.

    Of a stretch from `on` to `off` at least max(0, (off - e) - (max(on, moment) + e)) lies after
    the moment, and at most the same with the signs of e turned.
    """
    if moment_s is None and not whole:
        return None
    stretches = tuple(_stretches(times.presses))
    if not stretches:
        return None
    least = most = 0.0
    for on_s, off_s in stretches:
        if off_s is None or off_s == moment_s:
            return None
        since_s = on_s if moment_s is None else max(on_s, moment_s)
        length = _length(between(since_s, off_s, error_s))
        least, most = least + length.lo_s, most + length.hi_s
    return TimeInterval(round(least, 3), round(most, 3))


def _stretches(presses: Sequence[PressTimes]) -> Iterator[tuple[float, float | None]]:
    """Stretches of stimulus without a break; None where the end was not said.

    A press that the next one ended makes one stretch with it, since their moment is the same.
    """
    on_s: float | None = None
    for place, press in enumerate(presses):
        on_s = press.on_at_s if on_s is None else on_s
        following = presses[place + 1].on_at_s if place + 1 < len(presses) else None
        if press.mode == "momentary":
            yield on_s, None
        elif following is not None and press.off_at_s in (None, following):
            continue
        else:
            yield on_s, press.off_at_s
        on_s = None


def _length(interval: TimeInterval) -> TimeInterval:
    return TimeInterval(round(max(0.0, interval.lo_s), 3), round(max(0.0, interval.hi_s), 3))
