"""The levels of a dog on its progress paper: noticed, answered, too much, and the ceiling."""

from __future__ import annotations

from collections.abc import Mapping

from voicelog.analysis.levels import Ceiling, CombinedEstimate, LevelSeries, LowestStrongSign
from voicelog.analysis.overview import DogOverview
from voicelog.analysis.session_scope import SessionScope
from voicelog.analysis.statistics.logistic_curve import LevelEstimate
from voicelog.analysis.statistics.unknown import Unknown
from voicelog.analysis.statistics.up_down import UpDownEstimate
from voicelog.model import Mode
from voicelog.model.domain import FIND_LEVEL
from voicelog.report.paper import FEW_REPS, PaperLine, PaperSection
from voicelog.report.state_words import TO_CHECK, VOID
from voicelog.report.wording.levels import barred_words, ceiling_words, strong_sign_words
from voicelog.report.wording.statistics import (
    disagreement_words,
    level_words,
    unknown_words,
)
from voicelog.report.words import clean, counted, date_words

__all__ = ["ceiling_line", "levels_section"]

TOO_MUCH = "too much"
SESSIONS_TOLD_AT_ONCE = 6
"""Sessions back in which a series of levels must have been worked to be told at once."""

_MODES: Mapping[Mode, str] = {"momentary": "tap", "continuous": "continuous"}


def levels_section(found: DogOverview, scope: SessionScope) -> PaperSection:
    """The ceiling, which names the lowest strong sign of all, then each series of levels; those not
    worked lately or with few reps only as details, and what was too much in each."""
    lines: list[PaperLine] = []
    recent = {
        rep.id
        for session_digest in scope.session_digests[-SESSIONS_TOLD_AT_ONCE:]
        for rep in session_digest.reps
    }
    for one in found.levels:
        told = _series_lines(one, found.ceiling.strong)
        old = recent.isdisjoint(one.reps)
        hidden = old or one.of < FEW_REPS
        lines += [
            line.model_copy(update={"detail": line.detail or hidden or line.label == TOO_MUCH})
            for line in told
        ]
    if found.levels and all(_is_unknown(one) for one in found.levels):
        words = (
            f"Noticed and answered levels: too few reps yet, {FEW_REPS} with a level are needed."
        )
        lines.append(PaperLine(label="", words=words, few=True, detail=bool(found.ceiling.strong)))
    if lines or found.ceiling.strong:
        lines.insert(0, ceiling_line(found.ceiling, button=found.plan.names_levels))
    else:
        lines = [PaperLine(label="levels", words="No rep with a level on this transmitter.")]
    note = (
        "Noticed: any sign of the body. Answered: it did what was asked. Half, 4 in 5: the level "
        "by which, raised one step at a time, it has done so in half, or four in five, of its "
        "reps, with 95% intervals. Handlers are pooled, since the level is the dog's; drills, "
        "modes, distractions and transmitters never are."
    )
    return PaperSection(
        title="Levels",
        lines=tuple(lines),
        note=note if found.levels else "",
    )


def _is_unknown(one: LevelSeries) -> bool:
    """Whether a series has no level that could be told."""
    answered = one.answered is None or isinstance(one.answered.curve, Unknown)
    return answered and isinstance(one.noticed.curve, Unknown)


def ceiling_line(limit: Ceiling, *, button: bool = True) -> PaperLine:
    """The level of a `limit` and why it is there, or why there is none; no level to go by where the
    plan has no `button`."""
    words = ceiling_words(limit) if button or limit.none_left else barred_words(limit)
    if limit.level is not None and button:
        words = f"{limit.level}. {words}"
    return PaperLine(
        label="ceiling",
        words=words,
        mark="caution" if limit.none_left or limit.strong else "",
        reps=limit.strong.reps if limit.strong else (),
    )


def _series_lines(one: LevelSeries, lowest: LowestStrongSign | None) -> list[PaperLine]:
    inner = 1 if one.handler is None else 2
    first, last = date_words(one.first), date_words(one.last)
    span = first if first == last else f"{first} to {last}"
    left = [f"{one.doubtful} {TO_CHECK}"] if one.doubtful else []
    left += [f"{one.void} {VOID}"] if one.void else []
    left += [f"{one.mixed} tapped and held"] if one.mixed else []
    counts = f"{counted(one.of, 'rep')} in {counted(one.sessions, 'session')}, {span}"
    counts += f"; left out: {', '.join(left)}" if left else ""
    few = one.of < FEW_REPS
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
        lines.append(
            PaperLine(
                label=TOO_MUCH,
                words=f"{one.strong.level} at the lowest {strong_sign_words(one.strong)}.",
                mark="caution",
                level=inner,
                reps=one.strong.reps,
            )
        )
    elif one.handler is None:
        line = _none_here_line(lowest, inner)
        lines.append(line.model_copy(update={"detail": few}))
    return lines


def _none_here_line(lowest: LowestStrongSign | None, level: int) -> PaperLine:
    """That a series has no strong sign. `lowest` is the lowest of the dog in any drill and mode,
    doubtful reps included: where there is one, that is named."""
    if lowest is None:
        return PaperLine(label=TOO_MUCH, words="no strong sign so far.", level=level)
    return PaperLine(
        label=TOO_MUCH,
        words=f"{lowest.level} at the lowest, in other reps {strong_sign_words(lowest)}.",
        mark="caution",
        level=level,
        reps=lowest.reps,
    )


def _estimate_line(label: str, one: CombinedEstimate, level: int) -> PaperLine:
    if isinstance(one.curve, Unknown):
        return PaperLine(
            label=label,
            words=unknown_words(one.curve),
            few=True,
            level=level,
            detail=True,
            reps=one.reps,
        )
    half, most = one.curve.levels
    words = f"half at {level_words(half)}; 4 in 5 at {level_words(most)}"
    words += f"; of {counted(one.curve.of, 'rep')}"
    if isinstance(one.beside, UpDownEstimate):
        error = "" if one.beside.error is None else f" ± {one.beside.error:.1f}"
        words += f". Beside it, {one.beside.method}: {one.beside.level:.1f}{error}"
    differ = disagreement_words(one)
    words += f". {differ}" if differ else "."
    return PaperLine(label=label, words=words, few=_wide(half), level=level, reps=one.reps)


def _wide(level: LevelEstimate) -> bool:
    """Whether an interval says little: open at an end, or as wide as all levels tried."""
    if level.value is None or level.low is None or level.high is None:
        return True
    return level.high - level.low >= level.highest_tried - level.lowest_tried
