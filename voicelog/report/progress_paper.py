"""The progress of one dog: what it notices, answers and what is too much; how it goes on; what
it is ready for; what to do next.

Worded once, here, from the results of the analysis. No number stands without the reps it
rests on, and few reps are said to be few.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from datetime import date

from voicelog.analysis.levels import CombinedEstimate, LevelSeries
from voicelog.analysis.measure_series import Baseline, p_value_words
from voicelog.analysis.overview import DogOverview, overview
from voicelog.analysis.readiness import ReadinessStep
from voicelog.analysis.response_rates import ResponseRates
from voicelog.analysis.response_times import ResponseTimes, TimeGroup
from voicelog.analysis.session_digest import SessionDigest, by_date
from voicelog.analysis.session_scope import FIND_LEVEL, SessionScope, date_words, day_of, scope_of
from voicelog.analysis.statistics.logistic_curve import LevelEstimate
from voicelog.analysis.statistics.proportion import Proportion
from voicelog.analysis.statistics.survival import LogRankTest, Survival, TimeEstimate
from voicelog.analysis.statistics.unknown import Unknown
from voicelog.analysis.statistics.up_down import UpDownEstimate
from voicelog.model import CONTRACT_VERSION, Dog, Mode
from voicelog.model.dial import describe_steps
from voicelog.report.paper import Paper, PaperLine, PaperSection, every_ref, refs_of
from voicelog.report.plan_paper import plan_section
from voicelog.report.session_plot_data import calls_figure, levels_figure, times_figure
from voicelog.report.state_words import TO_CHECK, VOID
from voicelog.report.words import clean, counted, first_call_words
from voicelog.safety.settings import Thresholds, changed

__all__ = ["FEW", "as_json", "build"]

FEW = 10
"""Reps under which a line is shown as resting on few."""

RECENT = 6
"""Sessions back in which a series of levels must have been worked to be told at once."""

_MODES: Mapping[Mode, str] = {"momentary": "tap", "continuous": "continuous"}


def build(
    session_digests: Sequence[SessionDigest],
    dog: Dog,
    thresholds: Thresholds,
    today: date | None = None,
) -> Paper:
    """The paper of one dog. `session_digests` are all its sessions in short, in any order."""
    session_digests = by_date(session_digests)
    found = overview(session_digests, dog, thresholds, today)
    scope = scope_of(session_digests, today)
    sections = tuple(
        section
        for section in (
            _basis(scope, found, session_digests),
            plan_section(found.plan),
            _levels(found, scope),
            _ready(found.readiness),
            _calls(found, scope),
            _times(found.times),
            _change(found),
        )
        if section.lines or section.figure
    )
    return Paper(
        kind="progress",
        dog=clean(dog.name),
        title=f"Progress of {clean(dog.name)}",
        day="" if today is None else date_words(today),
        sections=sections,
        refs=refs_of(sections, session_digests),
        changed=changed(thresholds),
    )


def as_json(
    session_digests: Sequence[SessionDigest],
    dog: Dog,
    thresholds: Thresholds,
    today: date | None = None,
) -> str:
    """The results as JSON, the ids of the reps beside every number, and where each rep is."""
    found = overview(session_digests, dog, thresholds, today)
    body = {
        "format": CONTRACT_VERSION,
        "day": None if today is None else today.isoformat(),
        **found.model_dump(mode="json"),
        "changed": changed(thresholds),
        "reps": {
            ref: one.model_dump(mode="json") for ref, one in every_ref(session_digests).items()
        },
    }
    return json.dumps(body, indent=1, ensure_ascii=False) + "\n"


# --- sections --------------------------------------------------------------------------


def _basis(
    scope: SessionScope, found: DogOverview, session_digests: Sequence[SessionDigest]
) -> PaperSection:
    reps = [rep for one in session_digests for rep in one.tries]
    if not session_digests:
        return PaperSection(
            title="What it rests on",
            lines=(
                PaperLine(label="sessions", words="None yet: nothing can be said of this dog."),
            ),
        )
    look = sum(rep.heard == "look" for rep in reps)
    void = sum(rep.heard == "void" for rep in reps)
    span = (
        f"{day_of(session_digests[0])} to {day_of(session_digests[-1])}"
        if len(session_digests) > 1
        else day_of(session_digests[0])
    )
    unit = session_digests[-1].transmitter
    lines = [
        PaperLine(
            label="sessions",
            words=f"{counted(len(session_digests), 'session')}, "
            f"{counted(len(reps), 'rep')}; {span}.",
            few=len(reps) < FEW,
        ),
        PaperLine(
            label="transmitter",
            detail=True,
            words=f"Levels {unit.lowest} to {unit.top or 'a top not given'}; "
            f"{describe_steps(unit)}. "
            "Levels of two transmitters are never pooled.",
        ),
    ]
    if look or void:
        left = f"{counted(look, 'rep')} {TO_CHECK} and {void} {VOID}"
        words = f"{left}: counted in no number."
        if look:
            words += f" Readiness takes those {TO_CHECK} as not met."
        lines.append(PaperLine(label="left out", words=words))
    lines += [PaperLine(label="mind", words=note) for note in found.notes]
    return PaperSection(title="What it rests on", lines=tuple(lines))


def _levels(found: DogOverview, scope: SessionScope) -> PaperSection:
    lines: list[PaperLine] = []
    recent = {
        rep.id for session_digest in scope.session_digests[-RECENT:] for rep in session_digest.tries
    }
    for one in found.levels:
        told = _series_lines(one)
        old = recent.isdisjoint(one.reps)
        lines += [line.model_copy(update={"detail": line.detail or old}) for line in told]
    if lines or found.ceiling.strong:
        limit = found.ceiling
        words = f"{limit.level}. {limit.why}" if limit.level is not None else limit.why
        strong = limit.strong
        first = PaperLine(
            label="ceiling",
            words=words,
            mark="caution" if limit.none_left or strong else "",
            reps=strong.reps if strong else (),
        )
        lines.insert(0, first)
    else:
        lines = [PaperLine(label="levels", words="No rep with a level on this transmitter.")]
    note = (
        "Noticed: any sign of the body. Answered: it did what was asked. Half, 4 in 5: the level "
        "by which, walked up a step at a time, it has done so in half, or four in five, of its "
        "reps, with 95% intervals. Handlers are pooled, since the level is the dog's; drills, "
        "modes, distractions and transmitters never are."
    )
    return PaperSection(
        title="Levels",
        lines=tuple(lines),
        figure=levels_figure(scope, found.ceiling),
        note=note if found.levels else "",
    )


def _series_lines(one: LevelSeries) -> list[PaperLine]:
    inner = 1 if one.handler is None else 2
    span = one.first if one.first == one.last else f"{one.first} to {one.last}"
    left = [f"{one.doubtful} {TO_CHECK}"] if one.doubtful else []
    left += [f"{one.void} {VOID}"] if one.void else []
    counts = f"{counted(one.of, 'rep')} in {counted(one.sessions, 'session')}, {span}"
    counts += f"; left out: {', '.join(left)}" if left else ""
    few = one.of < FEW
    if one.handler is None:
        where = f"distraction {one.distraction}" if one.distraction else "distraction not said"
        label = ", ".join((one.drill or "drill not said", _MODES.get(one.mode, one.mode), where))
        if len(one.handlers) > 1:
            counts += f"; by {', '.join(map(clean, one.handlers))}"
        head = PaperLine(label=label, words=f"{counts}.", few=few, reps=one.reps)
    else:
        head = PaperLine(
            label=f"with {clean(one.handler)}",
            words=f"{counts}.",
            few=few,
            level=1,
            detail=few,
            reps=one.reps,
        )
        if few:
            return [head]
    by_level = ", ".join(f"{at.answered} of {at.of} at {at.level}" for at in one.at)
    what = "shown" if one.drill == FIND_LEVEL else "answered"
    lines = [head]
    if by_level and one.handler is None:
        counted_at = PaperLine(
            label=what, words=f"{by_level}.", few=few, level=inner, detail=not few
        )
        lines.append(counted_at)
    lines.append(_estimate_line("noticed", one.noticed, inner))
    if one.answered is not None:
        lines.append(_estimate_line("answers", one.answered, inner))
    if one.strong is not None:
        doubt = "" if one.strong.sure else f", {TO_CHECK}"
        lines.append(
            PaperLine(
                label="too much",
                words=f"{one.strong.level} at the lowest ({one.strong.sign}, {one.strong.day}"
                f"{doubt}).",
                mark="caution",
                level=inner,
                reps=one.strong.reps,
            )
        )
    elif one.handler is None:
        lines.append(PaperLine(label="too much", words="no strong sign so far.", level=inner))
    return lines


def _estimate_line(label: str, one: CombinedEstimate, level: int) -> PaperLine:
    if isinstance(one.curve, Unknown):
        return PaperLine(label=label, words=one.curve.why, few=True, level=level, reps=one.reps)
    half, most = one.curve.levels
    words = f"half at {half.words}; 4 in 5 at {most.words}; of {counted(one.curve.of, 'rep')}"
    if isinstance(one.beside, UpDownEstimate):
        error = "" if one.beside.error is None else f" ± {one.beside.error:.1f}"
        words += f". Beside it, {one.beside.method}: {one.beside.level:.1f}{error}"
    words += f". {one.disagreement}" if one.disagreement else "."
    return PaperLine(label=label, words=words, few=_wide(half), level=level, reps=one.reps)


def _wide(level: LevelEstimate) -> bool:
    """Whether an interval says little: open at an end, or as wide as all levels tried."""
    if level.value is None or level.low is None or level.high is None:
        return True
    return level.high - level.low >= level.highest_tried - level.lowest_tried


def _ready(steps: Sequence[ReadinessStep]) -> PaperSection:
    lines: list[PaperLine] = []
    for step in steps:
        lines.append(
            PaperLine(label=step.ladder, words=f"{step.now}. {step.words}", mark=step.verdict)
        )
        for one in step.criteria:
            words = f"{one.found}. Wanted: {one.wanted}."
            lines.append(
                PaperLine(
                    label=one.name,
                    words=words,
                    mark="yes" if one.met else "no",
                    level=1,
                    detail=one.met or one.found == "no such session",
                    reps=one.reps,
                )
            )
        if step.note:
            lines.append(PaperLine(label="", words=step.note, level=1, detail=True))
    note = ""
    if steps:
        basis = steps[0].criteria[0].basis
        note = (
            "No criterion needs the button, and no rep with a stimulus meets one. Basis: "
            f"{basis}. A dog that comes unaided at every second call, by luck alone, passes the "
            f"first criterion in {steps[0].chance:.1%} of such tests, and in "
            f"{steps[0].chance_ten:.1%} of cases within ten sessions with a test after each."
        )
    return PaperSection(title="Ready for", lines=tuple(lines), note=note)


def _calls(found: DogOverview, scope: SessionScope) -> PaperSection:
    lines = []
    for one in found.shares:
        drill = one.drill or "drill not said"
        label = drill if one.by == "all" else f"{one.by} {clean(one.value or 'not said')}"
        words = f"{_calls_words(one)}; no button {_share(one.no_button)}"
        if one.unsaid:
            words += f"; button not said in {one.unsaid}"
        few = isinstance(one.first_call, Unknown) or one.first_call.of < FEW
        level = 0 if one.by == "all" else 1
        lines.append(
            PaperLine(
                label=label,
                words=f"{words}.",
                few=few,
                level=level,
                detail=one.by not in ("all", "distraction"),
                reps=one.reps,
            )
        )
    if isinstance(found.baseline, Baseline):
        words = (
            f"before any stimulation {_share(found.baseline.before)}, "
            f"now {_share(found.baseline.now)} at the first call, unaided"
        )
        if isinstance(found.baseline.come, LogRankTest):
            words += f"; times to come compared: {p_value_words(found.baseline.come.p)}"
        lines.append(PaperLine(label="baseline", words=f"{words}.", reps=found.baseline.reps))
    elif found.shares:
        lines.append(PaperLine(label="baseline", words=found.baseline.why))
    return PaperSection(
        title="Calls",
        lines=tuple(lines),
        figure=calls_figure(scope, found.course[0].drill if found.course else None),
        note="In brackets: 95% Wilson intervals." if lines else "",
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


def _times(all_of_them: Sequence[ResponseTimes]) -> PaperSection:
    lines: list[PaperLine] = []
    figure = None
    for one in all_of_them:
        groups = [group for group in one.groups if group.timed]
        if not groups:
            words = "no rep was timed: that needs the call and the outcome said apart."
            lines.append(PaperLine(label=one.drill or "drill not said", words=words))
            continue
        for group in groups:
            label = f"to {group.what}" if group.group == "these sessions" else group.group
            inner = 0 if group.group == "these sessions" else 1
            words = _time_words(group)
            lines.append(
                PaperLine(
                    label=f"{one.drill or 'drill not said'}, {label}" if not inner else label,
                    words=words,
                    few=group.timed < FEW,
                    level=inner,
                    detail=bool(inner) and group.group != "the sessions before",
                    reps=group.reps,
                )
            )
        for comparison in one.compared:
            if isinstance(comparison.result, LogRankTest):
                p = comparison.result.p
                verdict = "differ" if p < 0.05 else "no difference that stands out"
                lines.append(
                    PaperLine(
                        label="compared",
                        words=f"to {comparison.what}, {' / '.join(comparison.groups)}: {verdict} "
                        f"(log-rank {p_value_words(p)}).",
                        level=1,
                        detail=p >= 0.05,
                    )
                )
        figure = figure or times_figure(one)
    note = (
        "Times are the narrator's, about 1 s either way. A call that was ignored counts as not "
        "there yet, not as slow."
    )
    return PaperSection(
        title="Times", lines=tuple(lines), figure=figure, note=note if figure else ""
    )


def _time_words(group: TimeGroup) -> str:
    middle = (
        f"half within {_seconds(group.median)}"
        if isinstance(group.median, TimeEstimate)
        else group.median.why.rstrip(".")
    )
    mean = ""
    if isinstance(group.mean, TimeEstimate):
        until = (
            "" if group.mean.until is None else f", none counted beyond {group.mean.until:.0f} s"
        )
        mean = f"; mean {_seconds(group.mean)}{until}"
    timed = f"{group.timed} of {group.of} reps timed"
    if isinstance(group.curve, Survival) and group.curve.events < group.curve.of:
        timed += f", {group.curve.of - group.curve.events} of them not there by the end"
    return f"{middle}{mean}; {timed}."


def _seconds(time: TimeEstimate) -> str:
    high = "not bounded" if time.high is None else f"{time.high:.1f}"
    return f"{time.value:.1f} s ({time.low:.1f} to {high})"


def _change(found: DogOverview) -> PaperSection:
    lines = []
    where = ""
    for one in found.course:
        if not one.points:
            continue
        where = ", ".join(
            (one.drill or "drill not said", f"distraction {one.distraction or 'not said'}")
        )
        few = isinstance(one.trend, Unknown)
        reps = tuple(rep for point in one.points for rep in point.reps)
        lines.append(PaperLine(label=one.measure, words=one.trend_words, few=few, reps=reps))
        if one.measure == "first call":
            few = isinstance(one.change, Unknown)
            words = one.change_words
            lines.append(PaperLine(label="change", words=words, few=few, level=1, detail=few))
    return PaperSection(
        title="Change", lines=tuple(lines), note=f"One value a session, {where}." if where else ""
    )
