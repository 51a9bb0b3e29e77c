"""The three levels: first noticed, answered, and the lowest with a strong sign; the ceiling.

*Noticed* is any sign of the body, *answered* that the dog did it by itself; both are curves
through the reps (see `statistics.logistic_curve`), with the up-and-down estimate beside them.
Taps of the drill "find level" that rise one after the other until the dog shows something are
one walk.

The ceiling is `ease_steps` steps (`voicelog.model.dial.step_down`) under the lowest level with a
strong sign, as far down as the press after one has to go. A strong sign counts from every drill and
mode of that transmitter, at any time, even from a doubtful rep: where stress is concerned doubt
counts against the level. So does one in a deleted session whose matter still stands. A fitted curve
may lower the ceiling, never raise it.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from datetime import date
from functools import partial
from itertools import pairwise
from typing import Literal

from voicelog.analysis.criteria import Criteria
from voicelog.analysis.open_matters import OpenMatter
from voicelog.analysis.session_digest import RepDigest, SessionDigest
from voicelog.analysis.session_scope import (
    RepInSession,
    SessionScope,
    distraction_rank,
    ids,
    last_sessions_with,
    reps_that,
)
from voicelog.analysis.statistics.logistic_curve import (
    CensoredLevel,
    LogisticCurve,
    censored_level,
    fit_level,
    fit_levels,
    most_chance,
)
from voicelog.analysis.statistics.unknown import Unknown
from voicelog.analysis.statistics.up_down import (
    UpDownEstimate,
    disagrees,
    dixon_mood,
    midpoints,
    reversals,
)
from voicelog.model import FrozenModel, Mode, Transmitter
from voicelog.model.dial import step_down
from voicelog.model.domain import FIND_LEVEL, STIMULATION

__all__ = [
    "Ceiling",
    "CombinedEstimate",
    "LevelCount",
    "LevelSeries",
    "LowestStrongSign",
    "ceiling",
    "level_series",
    "strong_levels",
]


class LevelCount(FrozenModel):
    """Of the reps whose highest level this was: how many, and how many the dog answered."""

    level: int
    of: int
    answered: int
    strong: int
    reps: tuple[str, ...]


class CombinedEstimate(FrozenModel):
    """A level by its curve, the up-and-down estimate beside it, and whether they disagree."""

    curve: LogisticCurve | Unknown
    beside: UpDownEstimate | Unknown
    disagree: bool
    reps: tuple[str, ...]


class LowestStrongSign(FrozenModel):
    """The lowest level with a strong sign; `sure` is False where only doubtful reps show it."""

    level: int
    sign: str
    day: date | None
    times: int
    sure: bool
    reps: tuple[str, ...]


class LevelSeries(FrozenModel):
    """The levels of one drill, mode and distraction; `handler` is None where all are pooled."""

    drill: str | None
    mode: Mode
    distraction: str | None
    handler: str | None
    handlers: tuple[str, ...]
    """Who held the button, where that was said."""
    sessions: int
    first: date | None
    last: date | None
    of: int
    doubtful: int
    void: int
    mixed: int
    """Sure ones left out, in which it was both tapped and held at a level."""
    at: tuple[LevelCount, ...]
    noticed: CombinedEstimate
    answered: CombinedEstimate | None
    """None for the drill "find level", where nothing is asked."""
    strong: LowestStrongSign | None
    reps: tuple[str, ...]


class Ceiling(FrozenModel):
    """The level not to go above; `level` is None where none is left or none is known.

    `none_left`: a strong sign came so low that no level is left below it, or at a level that the
    collar lacks, so that nobody knows how low.
    """

    level: int | None
    none_left: bool
    basis: Literal["no session", "reps", "profile"]
    """What set it; "no session" and "reps" also where nothing did."""
    strong: LowestStrongSign | None
    lowered: int | None
    """Where a fitted curve lowered it: what it would have been."""
    curve: int | None = None
    """Where a fitted curve lowered it: the highest level at which the chance (0 to 1) of a strong
    sign is at most `chance`."""
    chance: float = 0.0
    steps: int = 0
    """How many steps it lies under the strong sign."""
    top: int | None = None
    """The collar's top, where the `strong` sign is noted above it: that level is not believed."""


def level_series(scope: SessionScope, criteria: Criteria) -> tuple[LevelSeries, ...]:
    """Every series worked, the easiest distraction first, each handler after the pool."""
    keys: dict[tuple[str | None, Mode, str | None], None] = {}
    for one in scope.session_digests:
        for rep in one.reps:
            if rep.levels and rep.state != "void" and rep.mode in STIMULATION:
                keys[rep.drill, rep.mode, rep.distraction] = None
    found = []
    for key in sorted(keys, key=_order):
        session_digests = last_sessions_with(
            scope.session_digests, partial(_in, key), criteria.look_back
        )
        reps = reps_that(session_digests, partial(_in, key))
        whole = _series(key, None, reps, session_digests)
        found.append(whole)
        if len(whole.handlers) > 1:
            for handler in whole.handlers:
                own = [one for one in reps if one.rep.handler == handler]
                where = tuple(dict.fromkeys(one.session_digest for one in own))
                found.append(_series(key, handler, own, where))
    return tuple(found)


def ceiling(
    scope: SessionScope,
    criteria: Criteria,
    profile: int | None = None,
    dial: Transmitter | None = None,
) -> Ceiling:
    """The ceiling that the reps of a scope offer, and what is kept of deleted ones among its
    matters; `profile` is one that was set. The steps are those of `dial`, or of the newest
    session's transmitter."""
    kept = [one for one in scope.matters if one.deleted and one.stands and one.matter.levels]
    if not scope.session_digests and not kept:
        return Ceiling(
            level=profile, none_left=False, basis="no session", strong=None, lowered=None
        )
    last = scope.session_digests[-1:]
    unit = dial or (last[0].transmitter if last else kept[0].matter.transmitter)
    reps = reps_that(
        scope.session_digests,
        lambda rep: (rep.levels or rep.mode in STIMULATION) and rep.state != "void",
    )
    beyond = _beyond(reps, kept, unit)
    if beyond is not None:
        sign, top = beyond
        return Ceiling(level=None, none_left=True, basis="reps", strong=sign, lowered=None, top=top)
    strong = _lowest_kept(kept)
    seen = _lowest_strong(reps)
    if strong is None or (seen is not None and seen.level <= strong.level):
        strong = seen
    level: int | None = None
    basis: Literal["reps", "profile"] = "reps"
    lowered = curve = None
    if strong is not None:
        level = strong.level - criteria.ease_steps * step_down(unit, strong.level)
        fitted = _curve_ceiling(reps, criteria.strong_chance, level)
        if fitted is not None and fitted < level:
            lowered, level, curve = level, fitted, fitted
    if profile is not None and (level is None or profile < level):
        level, basis = profile, "profile"
    none_left = level is not None and level < unit.lowest
    return Ceiling(
        level=None if none_left else level,
        none_left=none_left,
        basis=basis,
        strong=strong,
        lowered=lowered,
        curve=curve,
        chance=criteria.strong_chance,
        steps=criteria.ease_steps,
    )


# --- within ----------------------------------------------------------------------------


_Key = tuple[str | None, Mode, str | None]


def _order(key: _Key) -> tuple[bool, str, str, int]:
    drill, mode, distraction = key
    place = distraction_rank(distraction)
    return drill == FIND_LEVEL, drill or "~", mode, 9 if place is None else place


def _in(key: _Key, rep: RepDigest) -> bool:
    return (rep.drill, rep.mode, rep.distraction) == key and bool(rep.levels)


def _series(
    key: _Key,
    handler: str | None,
    reps: Sequence[RepInSession],
    session_digests: Sequence[SessionDigest],
) -> LevelSeries:
    drill, mode, distraction = key
    said = [one for one in reps if one.rep.state == "sure"]
    sure = [one for one in said if not one.rep.mixed]
    taps = drill == FIND_LEVEL
    names = dict.fromkeys(one.rep.handler for one in sure if one.rep.handler)
    return LevelSeries(
        drill=drill,
        mode=mode,
        distraction=distraction,
        handler=handler,
        handlers=tuple(names),
        sessions=len(session_digests),
        first=session_digests[0].day,
        last=session_digests[-1].day,
        of=len(sure),
        doubtful=sum(one.rep.state == "check" for one in reps),
        void=sum(one.rep.state == "void" for one in reps),
        mixed=len(said) - len(sure),
        at=_at_levels(sure, taps),
        noticed=_noticed(sure, taps),
        answered=None if taps else _answered(sure),
        strong=_lowest_strong([one for one in reps if one.rep.state != "void"]),
        reps=ids(sure),
    )


def _at_levels(reps: Sequence[RepInSession], taps: bool) -> tuple[LevelCount, ...]:
    by_level: dict[int, list[RepInSession]] = defaultdict(list)
    for one in reps:
        by_level[max(one.rep.levels)].append(one)
    return tuple(
        LevelCount(
            level=level,
            of=len(some),
            answered=sum(_showed(one.rep) is True if taps else one.rep.came for one in some),
            strong=sum(one.rep.strong for one in some),
            reps=ids(some),
        )
        for level, some in sorted(by_level.items())
    )


def _showed(rep: RepDigest) -> bool | None:
    """Whether the body showed anything; None where nothing was said of it."""
    if any(sign.class_ != "none" for sign in rep.signs):
        return True
    return False if rep.signs else None


def _answered(reps: Sequence[RepInSession]) -> CombinedEstimate:
    asked = [one for one in reps if one.rep.outcome not in (None, "unknown")]
    walks = [(one, censored_level(one.rep.levels, one.rep.came)) for one in asked]
    presses = [
        (level, one.rep.came and number == one.rep.levels.index(max(one.rep.levels)))
        for one in asked
        for number, level in enumerate(_up_to_answer(one.rep))
    ]
    return _estimate([(one, walk) for one, walk in walks if walk is not None], presses)


def _up_to_answer(rep: RepDigest) -> tuple[int, ...]:
    """The levels up to the highest: what was rolled back to after it says nothing new."""
    return rep.levels[: rep.levels.index(max(rep.levels)) + 1]


def _noticed(reps: Sequence[RepInSession], taps: bool) -> CombinedEstimate:
    walks: list[tuple[RepInSession, CensoredLevel]] = []
    presses: list[tuple[int, bool]] = []
    if taps:
        for run, seen in _runs(reps):
            walk = censored_level([max(one.rep.levels) for one in run], seen)
            if walk is not None:
                walks.append((run[-1], walk))
                presses += [(max(one.rep.levels), False) for one in run[:-1]]
                presses.append((max(run[-1].rep.levels), seen))
        members = ids(one for run, _ in _runs(reps) for one in run)
        return _estimate(walks, presses, members)
    for one in reps:
        levels = _until_noticed(one.rep)
        if levels is None:
            continue
        seen = _showed(one.rep) is True
        walk = censored_level(levels, seen)
        if walk is not None:
            walks.append((one, walk))
            presses += [(level, seen and level == levels[-1]) for level in levels]
    return _estimate(walks, presses)


def _runs(reps: Sequence[RepInSession]) -> Iterable[tuple[list[RepInSession], bool]]:
    """Taps that rise one after the other in a session until the dog shows something."""
    run: list[RepInSession] = []
    for one in reps:
        seen = _showed(one.rep)
        if seen is None:
            continue
        level = max(one.rep.levels)
        broken = run and (
            run[-1].session_digest.session != one.session_digest.session
            or level <= max(run[-1].rep.levels)
        )
        if broken:
            yield run, False
            run = []
        run = [*run, one]
        if seen:
            yield run, True
            run = []
    if run:
        yield run, False


def _until_noticed(rep: RepDigest) -> tuple[int, ...] | None:
    """The levels of a rep up to the one at which something showed first; all of them where
    "nothing" was said; None where nothing was said of the body."""
    shown = [s.level for s in rep.signs if s.class_ != "none" and s.level is not None]
    if shown:
        first = next((place for place, level in enumerate(rep.levels) if level in shown), None)
        return None if first is None else rep.levels[: first + 1]
    return _up_to_answer(rep) if _showed(rep) is False else None


def _estimate(
    walks: Sequence[tuple[RepInSession, CensoredLevel]],
    presses: Sequence[tuple[int, bool]],
    members: tuple[str, ...] | None = None,
) -> CombinedEstimate:
    """The curve, and the first up-and-down estimate that the way of walking allows."""
    only = [walk for _, walk in walks]
    curve = fit_levels(only, session_digests=[one.session_digest.session for one, _ in walks])
    levels, answers = [level for level, _ in presses], [answer for _, answer in presses]
    beside: UpDownEstimate | Unknown = Unknown(code="no curve")
    if isinstance(curve, LogisticCurve):
        for result in (
            midpoints(only),
            dixon_mood(levels, answers, _step(levels)),
            reversals(levels, answers),
        ):
            beside = result
            if isinstance(result, UpDownEstimate):
                break
    differ = (
        isinstance(curve, LogisticCurve)
        and isinstance(beside, UpDownEstimate)
        and disagrees(curve, beside)
    )
    reps = ids(one for one, _ in walks) if members is None else members
    return CombinedEstimate(curve=curve, beside=beside, disagree=differ, reps=reps)


def _step(levels: Sequence[int]) -> float:
    steps = {abs(b - a) for a, b in pairwise(levels) if a != b}
    return float(min(steps, default=1))


def strong_levels(rep: RepDigest) -> list[tuple[int, str]]:
    """The levels at which a strong sign showed; the rep's highest where it does not say."""
    if not rep.signs or (rep.mode not in STIMULATION and not rep.levels):
        return []
    found = []
    for sign in rep.signs:
        if sign.class_ == "strong":
            level = sign.level if sign.level is not None else rep.peak
            if level is not None:
                found.append((level, sign.name))
    return found


def _lowest_strong(reps: Sequence[RepInSession]) -> LowestStrongSign | None:
    seen = [(level, sign, one) for one in reps for level, sign in strong_levels(one.rep)]
    if not seen:
        return None
    level = min(level for level, _, _ in seen)
    at = [(sign, one) for there, sign, one in seen if there == level]
    sign, newest = at[-1]
    return LowestStrongSign(
        level=level,
        sign=sign,
        day=newest.session_digest.day,
        times=len({one.rep.id for _, one in at}),
        sure=any(one.rep.state == "sure" for _, one in at),
        reps=tuple(dict.fromkeys(one.rep.id for _, one in at)),
    )


def _beyond(
    reps: Sequence[RepInSession], kept: Sequence[OpenMatter], unit: Transmitter
) -> tuple[LowestStrongSign, int] | None:
    """A strong sign at a level above the top of the collar, where that was given, and that top;
    None where there is none. It is a strong sign, and at what level it came is not known: it may
    have been the lowest."""

    def over(own: Transmitter, levels: Iterable[int]) -> int | None:
        tops = [one.top for one in (own, unit) if one.top is not None]
        return min(tops) if tops and max(levels, default=0) > min(tops) else None

    for one in reversed(reps):
        told = strong_levels(one.rep)
        top = over(one.session_digest.transmitter, (level for level, _ in told))
        if top is None:
            continue
        level, sign = max(told)
        strong = LowestStrongSign(
            level=level,
            sign=sign,
            day=one.session_digest.day,
            times=1,
            sure=one.rep.state == "sure",
            reps=(one.rep.id,),
        )
        return strong, top
    for gone in reversed(kept):
        top = over(gone.matter.transmitter, gone.matter.levels)
        found = _lowest_kept([gone])
        if top is not None and found is not None:
            return found.model_copy(update={"level": max(gone.matter.levels)}), top
    return None


def _lowest_kept(kept: Sequence[OpenMatter]) -> LowestStrongSign | None:
    """What is kept of the strong signs of deleted sessions."""
    lowest = min(kept, key=lambda one: one.matter.levels[0], default=None)
    if lowest is None:
        return None
    return LowestStrongSign(
        level=lowest.matter.levels[0],
        sign=next(iter(lowest.matter.names), "strong sign"),
        day=lowest.day,
        times=1,
        sure=not lowest.matter.on_doubt,
        reps=(),
    )


def _curve_ceiling(reps: Sequence[RepInSession], chance: float, under: int) -> int | None:
    """The highest level at which the fitted chance of a strong sign is no more than `chance`: a
    curve of the taps and one of the held presses, and the lower of the two. A curve that cannot
    come to a level under `under` is not fitted."""
    at: dict[Mode, Counter[tuple[int, bool]]] = defaultdict(Counter)
    for _, rep in reps:
        if rep.levels and not rep.mixed and rep.mode in STIMULATION:
            strong = [level for level, _ in strong_levels(rep)]
            at[rep.mode][min(strong or (max(rep.levels),)), bool(strong)] += 1
    found = [
        _mode_ceiling(counts, chance)
        for counts in at.values()
        if _may_be_under(counts, chance, under)
    ]
    return min((level for level in found if level is not None), default=None)


def _mode_ceiling(counts: Counter[tuple[int, bool]], chance: float) -> int | None:
    """The same of one mode: how many reps there were at each level, with a strong sign or none."""
    walks = []
    for (pressed, strong), many in counts.items():
        walk = censored_level([pressed], strong)
        if walk is not None:
            walks += [walk] * many
    level = fit_level(walks, chance)
    if isinstance(level, Unknown):
        return None
    if level.value is None:
        return math.floor(level.lowest_tried) - 1 if level.side == "below" else None
    return math.floor(level.value)


def _may_be_under(counts: Counter[tuple[int, bool]], chance: float, under: int) -> bool:
    """Whether `_mode_ceiling` may be under a level, as far as it can be told without the fit, which
    is most of the work; of most dogs it is plain that it is not. It is never further under the
    lowest level pressed than one."""
    trials, events = Counter[float](), Counter[float]()
    for (pressed, strong), many in counts.items():
        trials[pressed] += many
        events[pressed] += many * strong
    return min(trials) <= under and most_chance(trials, events, under) >= chance
