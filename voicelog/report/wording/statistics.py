"""The results of the statistical methods in words, and why there is none."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import assert_never

from voicelog.analysis.levels import CombinedEstimate
from voicelog.analysis.measure_series import Measure, MeasureSeries
from voicelog.analysis.statistics.cusum import Cusum
from voicelog.analysis.statistics.logistic_curve import LevelEstimate, LogisticCurve
from voicelog.analysis.statistics.trend import Trend
from voicelog.analysis.statistics.unknown import Unknown
from voicelog.analysis.statistics.up_down import UpDownEstimate, level_at_half
from voicelog.report.words import counted, date_words

__all__ = [
    "NO_TREND",
    "cusum_words",
    "disagreement_words",
    "level_words",
    "p_value_words",
    "series_change_words",
    "series_trend_words",
    "unknown_words",
]

NO_TREND = 0.05
"""The p from which a trend is called none."""
_MEASURES: dict[Measure, str] = {
    "first call": "the share of first calls answered unaided",
    "with the button": "the share of reps with the button",
    "seconds to come": "the time to come",
    "level answered": "the level answered",
}


def unknown_words(one: Unknown) -> str:
    """Why there is no number, as one sentence for the trainer."""
    of = one.of
    match one.code:
        case "no rep":
            return "No rep to take a share of."
        case "no level":
            return "No rep with a level yet."
        case "too few levels":
            return f"Too few reps yet: {counted(of, 'rep')} with a level, {one.needed} are needed."
        case "none answered":
            return f"None of {of} reps was answered, up to level {one.value:g}: it lies above that."
        case "all answered at the first press":
            return (
                f"All {of} reps were answered at the first press, down to level {one.value:g}: it "
                "lies at or below that, and nothing lower was tried."
            )
        case "one level only":
            return (
                f"Only level {one.value:g} was tried: {one.count} of {of} reps answered; a curve "
                "needs more than one level."
            )
        case "no rise with level":
            return (
                f"In {of} reps the dog did not answer more often at higher levels, so the level it "
                "answers cannot be told from them."
            )
        case "never turned":
            return f"{one.count} of {of} presses answered: the walk never turned."
        case "not by one step":
            return "The levels were not walked up and down by one step from press to press."
        case "not up and down":
            return "The levels were not walked up and down from press to press."
        case "too few reversals":
            return f"{of} reversals after the first {one.count}; {one.needed} are needed."
        case "too few walked up":
            return (
                f"{one.count} of {of} reps were walked up from a level ignored to one answered; at "
                f"least {one.needed}, and four in five, are needed."
            )
        case "no curve":
            return "no reps"
        case "no timed rep answered":
            return f"None of {of} timed reps was answered."
        case "no timed rep":
            return "No rep was timed."
        case "median beyond":
            return (
                f"Fewer than half of {of} reps were answered within {one.value:g} s, so the median "
                "lies beyond."
            )
        case "mean beyond":
            return (
                f"No rep was timed beyond {one.value:g} s, so a mean until {one.until:g} s cannot "
                "be told."
            )
        case "all at zero":
            return "Every rep was timed at 0 s."
        case "one group only":
            return "A comparison needs two groups with timed reps."
        case "groups apart in time":
            return "No rep was answered while reps of two groups were under way."
        case "too few values for a trend":
            return f"{counted(of, 'value')}; a trend needs {one.needed}."
        case "one time only":
            return "All values are of one time, so there is no trend to tell."
        case "too few values for a change":
            return (
                f"{counted(of, 'value')}; a change can be told from {one.needed} on, the first "
                f"{one.needed - 1} being what it is compared with."
            )
        case "first values equal":
            return (
                f"The first {one.count} values are all {one.value:g}, so what is chance and what "
                "is change cannot be told apart."
            )
        case "no baseline":
            return (
                "No baseline (two sessions of no-button recalls before the first stimulation): no "
                "comparison possible."
            )
        case "no call since baseline":
            return "No call was heard since the baseline: no comparison possible."
        case "not worked out":
            return "Could not be worked out."
        case "too few sessions":
            return f"{counted(of, 'session')}; {one.needed} are needed."
        case "parted":
            return (
                "Before and after are so far apart that the size of the difference cannot be told."
            )
        case "too few to compare":
            return (
                f"Too few to compare: {counted(of, 'call')} on one side; {one.needed} are needed, "
                "of two sessions at the least."
            )
        case "too few presses":
            return f"{counted(of, 'call')} with a stimulus and its time; {one.needed} are needed."
        case "one only":
            return "Only one so far, so there is nothing to compare."
        case "none yet":
            return "None so far."
        case "too few calls":
            return f"{counted(of, 'call')}; {one.needed} are needed."
        case "button unsaid":
            return (
                f"In {one.count} of {of} calls it came, and whether a button was used was not "
                "said: say “no button”."
            )
        case "nearly all alike":
            return f"{one.count} of {of} calls were answered unaided: nearly all ended alike."
        case _:
            assert_never(one.code)


def p_value_words(p: float) -> str:
    """A p in words: "p = 0.04", "p < 0.001"."""
    if p < 0.001:
        return "p < 0.001"
    return f"p = {p:.3f}" if p < 0.1 else f"p = {p:.2f}"


def level_words(level: LevelEstimate) -> str:
    """A level with its interval: "6.2 (4.8 to above 9)", "above 9 (from 7.1)"."""
    beneath, over = f"below {level.lowest_tried:g}", f"above {level.highest_tried:g}"
    low = beneath if level.low is None else f"{level.low:.1f}"
    high = over if level.high is None else f"{level.high:.1f}"
    if level.side == "above":
        return f"{over} (from {low})"
    if level.side == "below":
        return f"{beneath} (up to {high})"
    return f"{level.value:.1f} ({low} to {high})"


def disagreement_words(one: CombinedEstimate) -> str:
    """That the curve and the estimate beside it disagree; "" where they do not. `one` holds both
    estimates."""
    if not (
        one.disagree
        and isinstance(one.curve, LogisticCurve)
        and isinstance(one.beside, UpDownEstimate)
    ):
        return ""
    other, level = one.beside, level_at_half(one.curve)
    if level is None:
        return ""
    return (
        f"The curve has the level at {level_words(level)}, the {other.method} at "
        f"{other.level:.1f}: they disagree, so trust neither until there are more reps."
    )


def cusum_words(what: str, found: Cusum, days: Sequence[date | None]) -> str:
    """That `what` changed or did not; `days` has the day of each value. `found` is the change, or
    why none is told."""
    if found.signal is None or found.began is None:
        return f"{what} shows no lasting change from {found.target:.3g}."
    way = "above" if found.direction == "up" else "below"
    return (
        f"{what} has run {way} the earlier {found.target:.3g} since "
        f"{date_words(days[found.began])}; by {date_words(days[found.signal])} that was more than "
        "chance makes likely."
    )


def series_change_words(one: MeasureSeries) -> str:
    """Whether and when a measure changed. `one` is the measure with its change."""
    if isinstance(one.change, Unknown):
        return unknown_words(one.change)
    return cusum_words(_MEASURES[one.measure], one.change, [point.day for point in one.points])


def series_trend_words(one: MeasureSeries) -> str:
    """Whether and how fast a measure rises or falls over its sessions. `one` is the measure with
    its trend."""
    if isinstance(one.trend, Unknown):
        return unknown_words(one.trend)
    return _trend_words(one.measure, one.trend)


def _trend_words(name: Measure, slope: Trend) -> str:
    what = _MEASURES[name].capitalize()
    over = f"over {counted(slope.of, 'session')}"
    p = p_value_words(slope.p)
    if slope.p >= NO_TREND:
        return f"{what}: no clear trend {over} ({p})."
    if slope.slope == 0:
        return f"{what}: it changes, but by too little to measure, {over} ({p})."
    way = "rises" if slope.slope > 0 else "falls"
    low, high = sorted((slope.low, slope.high), key=abs)
    return (
        f"{what} {way} by {_amount(name, slope.slope)} a session (95% interval "
        f"{_amount(name, low)} to {_amount(name, high)}) {over}; {p}, the middle of all slopes "
        "between two sessions."
    )


def _amount(name: Measure, value: float) -> str:
    if name in ("first call", "with the button"):
        return f"{abs(value) * 100:.1f} of 100 {'calls' if name == 'first call' else 'reps'}"
    return f"{abs(value):.2f}{' s' if name == 'seconds to come' else ' levels'}"
