"""The results of the analysis with their words, as plain values, for other programs.

The analysis hands on numbers and codes; its JSON has the sentences made of them as well, under
names that other programs know (`why`, `words`, `trend_words`), so they are put in here.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date
from typing import Any

from voicelog.analysis.criterion import Criterion
from voicelog.analysis.levels import Ceiling, CombinedEstimate, LevelSeries, LowestStrongSign
from voicelog.analysis.measure_series import Baseline, MeasurePoint, MeasureSeries
from voicelog.analysis.open_matters import OpenMatter
from voicelog.analysis.plan import Aim, Plan
from voicelog.analysis.readiness import ReadinessStep
from voicelog.analysis.reason import Reason
from voicelog.analysis.session_scope import ScopeNote
from voicelog.analysis.statistics.unknown import Unknown
from voicelog.analysis.story import Story
from voicelog.model import FrozenModel
from voicelog.report.wording.levels import ceiling_words, note_words
from voicelog.report.wording.matters import matter_words
from voicelog.report.wording.readiness import (
    criterion_words,
    next_words,
    now_words,
    step_note,
    step_words,
)
from voicelog.report.wording.reasons import aim_words, reason_words, warm_up_words
from voicelog.report.wording.statistics import (
    disagreement_words,
    series_change_words,
    series_trend_words,
    unknown_words,
)
from voicelog.report.wording.story import change_words, today_words
from voicelog.report.words import date_words

__all__ = ["worded"]


def worded(record: FrozenModel) -> dict[str, Any]:
    """The fields of a record by name, as JSON takes them, with the words of what is in it."""
    fields = _plain(record)
    if not isinstance(fields, dict):
        raise TypeError(f"{type(record).__name__} is words only")
    return fields


def _plain(value: Any) -> Any:
    """A value of a field as JSON takes it."""
    if isinstance(value, FrozenModel):
        known = next((made for kind, made in _WORDED.items() if isinstance(value, kind)), _fields)
        return known(value)
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, tuple):
        return [_plain(one) for one in value]
    return value


def _fields(record: FrozenModel) -> dict[str, Any]:
    """Field by field."""
    return {name: _plain(getattr(record, name)) for name in type(record).model_fields}


def _ceiling(one: Ceiling) -> dict[str, Any]:
    return {
        "level": one.level,
        "none_left": one.none_left,
        "why": ceiling_words(one),
        "strong": _plain(one.strong),
        "lowered": one.lowered,
    }


def _estimate(one: CombinedEstimate) -> dict[str, Any]:
    return {
        "curve": _plain(one.curve),
        "beside": _plain(one.beside),
        "disagreement": disagreement_words(one) or None,
        "reps": list(one.reps),
    }


def _step(one: ReadinessStep) -> dict[str, Any]:
    return {
        "ladder": one.ladder,
        "now": now_words(one),
        "next": next_words(one),
        "verdict": one.verdict,
        "words": step_words(one),
        "criteria": [_criterion(each) for each in one.criteria],
        "chance": one.chance,
        "chance_ten": one.chance_ten,
        "note": step_note(one),
    }


def _criterion(one: Criterion) -> dict[str, Any]:
    words = criterion_words(one)
    return {
        "name": words.name,
        "wanted": words.wanted,
        "found": words.found,
        "met": one.met,
        "missing": words.missing,
        "basis": words.basis,
        "reps": list(one.reps),
    }


def _series(one: MeasureSeries) -> dict[str, Any]:
    fields = _fields(one)
    change = fields.pop("change")
    return fields | {
        "trend_words": series_trend_words(one),
        "change": change,
        "change_words": series_change_words(one),
    }


def _levels(one: LevelSeries) -> dict[str, Any]:
    return _fields(one) | {"first": date_words(one.first), "last": date_words(one.last)}


def _matter(one: OpenMatter) -> dict[str, Any]:
    matter, closing = one.matter, one.closing
    return {
        "id": one.id,
        "kind": matter.kind,
        "state": one.state,
        "stop": one.is_stop,
        "words": matter_words(one),
        "day": None if one.day is None else one.day.isoformat(),
        "session": matter.session,
        "numbers": list(matter.reps),
        "reps": list(matter.rep_ids),
        "recording": matter.recording,
        "start_s": matter.start_s,
        "end_s": matter.end_s,
        "on_doubt": matter.on_doubt,
        "closed_by": None if closing is None else closing.who,
        "reason": None if closing is None else closing.reason,
        "consulted": None if closing is None else closing.consulted or None,
    }


_WORDED: Mapping[type[FrozenModel], Callable[[Any], Any]] = {
    Aim: aim_words,
    Baseline: lambda one: _fields(one) | {"days": list(map(date_words, one.days))},
    Ceiling: _ceiling,
    CombinedEstimate: _estimate,
    LevelSeries: _levels,
    LowestStrongSign: lambda one: _fields(one) | {"day": date_words(one.day)},
    MeasurePoint: lambda one: _fields(one) | {"day": date_words(one.day)},
    MeasureSeries: _series,
    OpenMatter: _matter,
    Plan: lambda one: _fields(one) | {"warm_up": warm_up_words(one.warm_up)},
    ReadinessStep: _step,
    Reason: lambda one: {"words": reason_words(one), "reps": list(one.reps)},
    ScopeNote: note_words,
    Story: lambda one: _fields(one) | {"words": [today_words(one), change_words(one.change)]},
    Unknown: lambda one: {"why": unknown_words(one), "of": one.of},
}
"""How a record is worded where its fields alone do not say it."""
