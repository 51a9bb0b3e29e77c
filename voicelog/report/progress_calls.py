"""Calls and times of a dog on its progress paper: how often, and how fast it comes."""

from __future__ import annotations

from collections.abc import Sequence

from voicelog.analysis.measure_series import Baseline
from voicelog.analysis.overview import DogOverview
from voicelog.analysis.response_rates import ResponseRates
from voicelog.analysis.response_times import (
    SESSIONS_BEFORE,
    THESE_SESSIONS,
    ResponseTimes,
    TimeGroup,
)
from voicelog.analysis.statistics.proportion import Proportion
from voicelog.analysis.statistics.survival import LogRankTest, Survival, TimeEstimate
from voicelog.analysis.statistics.unknown import Unknown
from voicelog.report.paper import FEW_REPS, PaperLine, PaperSection
from voicelog.report.session_plot_data import times_figure
from voicelog.report.wording.statistics import (
    p_value_words,
    unknown_words,
)
from voicelog.report.words import clean, first_call_words

__all__ = ["calls_section", "times_section"]


def calls_section(found: DogOverview) -> PaperSection:
    """How often it came at the first call, in any way and unaided, beside the baseline; `found` is
    what is known of the dog."""
    lines = []
    for one in found.shares:
        drill = one.drill or "drill not said"
        label = drill if one.by == "all" else f"{one.by} {clean(one.value or 'not said')}"
        words = _calls_words(one)
        if one.unsaid:
            others = f"; of the others unaided {_share(one.no_button)}"
            said = isinstance(one.no_button, Proportion)
            words += f"; button not said in {one.unsaid}{others if said else ''}"
        few = isinstance(one.first_call, Unknown) or one.first_call.of < FEW_REPS
        level = 0 if one.by == "all" else 1
        lines.append(
            PaperLine(
                label=label,
                words=f"{words}.",
                few=few,
                level=level,
                detail=one.by not in ("all", "distraction") or (one.by == "distraction" and few),
                reps=one.reps,
            )
        )
    if isinstance(found.baseline, Baseline):
        words = (
            f"at the first call, unaided: before any stimulation {_share(found.baseline.before)}, "
            f"now {_share(found.baseline.now)}"
        )
        if isinstance(found.baseline.come, LogRankTest):
            words += f"; times to come compared: {p_value_words(found.baseline.come.p)}"
        lines.append(PaperLine(label="baseline", words=f"{words}.", reps=found.baseline.reps))
    elif found.shares:
        lines.append(PaperLine(label="baseline", words=unknown_words(found.baseline), detail=True))
    return PaperSection(
        title="Calls",
        lines=tuple(lines),
        note="In brackets: 95% intervals, wider where calls are of few sessions." if lines else "",
    )


def _calls_words(one: ResponseRates) -> str:
    """First calls, those answered unaided, with their interval."""
    if isinstance(one.first_call, Unknown):
        return "first call of no rep"
    few = _share(one.first_call).removeprefix(f"{one.first_call.count} of {one.first_call.of}")
    return first_call_words(one.first_call.count, one.came, one.first_call.of, few)


def _share(one: Proportion | Unknown) -> str:
    """A share in words; without a percentage where the reps are few."""
    if isinstance(one, Unknown):
        return "of no rep"
    words = f"{one.count} of {one.of}"
    if one.of < 5:
        return f"{words} (too few for a share)"
    return f"{words} ({one.low:.0%} to {one.high:.0%})".replace("% to ", " to ")


def times_section(all_of_them: Sequence[ResponseTimes]) -> PaperSection:
    """How long it took to turn and to come, drill by drill, with the comparisons."""
    lines: list[PaperLine] = []
    figure = None
    for one in all_of_them:
        groups = [group for group in one.groups if group.timed]
        if not groups:
            words = "no rep was timed: that needs the call and the outcome said apart."
            lines.append(PaperLine(label=one.drill or "drill not said", words=words, detail=True))
            continue
        for group in groups:
            label = f"to {group.what}" if group.group == THESE_SESSIONS else group.group
            inner = 0 if group.group == THESE_SESSIONS else 1
            words = _time_words(group)
            lines.append(
                PaperLine(
                    label=f"{one.drill or 'drill not said'}, {label}" if not inner else label,
                    words=words,
                    few=group.timed < FEW_REPS,
                    level=inner,
                    detail=group.timed < FEW_REPS
                    or (bool(inner) and group.group != SESSIONS_BEFORE),
                    reps=group.reps,
                )
            )
        for comparison in one.compared:
            if isinstance(comparison.result, LogRankTest):
                p = comparison.result.p
                verdict = "differ" if p < 0.05 else "no clear difference"
                lines.append(
                    PaperLine(
                        label="compared",
                        words=f"to {comparison.what}, {' / '.join(comparison.groups)}: {verdict} "
                        f"(log-rank {p_value_words(p)}).",
                        level=1,
                        detail=True,
                    )
                )
        figure = figure or times_figure(one)
    note = (
        "Times are the narrator's, about 1 s either way. A call that was ignored counts as not "
        "come yet, not as slow."
    )
    return PaperSection(
        title="Times", lines=tuple(lines), figure=figure, note=note if figure else ""
    )


def _time_words(group: TimeGroup) -> str:
    middle = (
        f"half came within {_seconds(group.median)}"
        if isinstance(group.median, TimeEstimate)
        else unknown_words(group.median).rstrip(".")
    )
    mean = ""
    if isinstance(group.mean, TimeEstimate):
        until = (
            "" if group.mean.until is None else f", none counted beyond {group.mean.until:.0f} s"
        )
        mean = f"; mean {_seconds(group.mean)}{until}"
    timed = f"{group.timed} of {group.of} reps timed"
    if isinstance(group.curve, Survival) and group.curve.events < group.curve.of:
        timed += f", {group.curve.of - group.curve.events} of them had not come by the end"
    return f"{middle}{mean}; {timed}."


def _seconds(time: TimeEstimate) -> str:
    """A time with its interval, which says nothing where all times were the same."""
    value = f"{time.value:.1f} s"
    if time.high is None:
        return f"{value} ({time.low:.1f} s or longer)"
    low, high = f"{time.low:.1f}", f"{time.high:.1f}"
    return value if low == high else f"{value} ({low} to {high})"
