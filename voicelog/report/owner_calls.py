"""What the owner is told of the dog's calls: what it does, and what it does not do surely yet.

Both rest on the calls of the last weeks alone (`analysis.recent_calls`). Of one situation one thing
is said and no more: what is promised where a lot goes on is promised where less does, unless it
fails there, and then neither is.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

from voicelog.analysis.recent_calls import CallAbility
from voicelog.analysis.story import Story
from voicelog.model import FrozenModel
from voicelog.model.domain import DISTRACTION_LADDER
from voicelog.report.wording.story import SITUATIONS
from voicelog.report.words import times_words

__all__ = ["FEW_EXERCISES", "CallBar", "call_bars", "calls_done", "calls_not_yet"]

FEW_EXERCISES = 10
"""Reps under which nothing is promised of what they show."""
PROMISED = 0.8
"""The share from which something is promised (common practice, no source)."""
ALL = "all calls"


class CallBar(FrozenModel):
    """How often it came at the first call, surely unaided, in one situation: `came` of `of` calls;
    `helped` are those to which it came at once, but with a stimulus or the button not said."""

    name: str
    came: int
    of: int
    helped: int = 0


def call_bars(one: Story) -> tuple[CallBar, ...]:
    """The recent calls by what was going on, the easiest first; all where that was never said."""
    said = [each for each in one.today.calls if each.distraction is not None]
    return tuple(map(_bar, said or one.today.calls))


def _bar(one: CallAbility) -> CallBar:
    share = one.unaided
    name = SITUATIONS.get(one.distraction or "", ALL)
    return CallBar(name=name, came=share.count, of=share.of, helped=one.came - share.count)


def calls_done(bars: Sequence[CallBar]) -> tuple[str, ...]:
    """What it does, as sentences."""
    return tuple(
        f"Comes at the first call {bar.name}: {bar.came} of {bar.of}{_helped(bar)}."
        for bar in bars
        if bar.name in _promised(bars)
    )


def calls_not_yet(bars: Sequence[CallBar], tried: Collection[str | None]) -> tuple[str, ...]:
    """What it does not do surely yet, as sentences. `tried` are the distractions at which it was
    ever called."""
    ladder = [SITUATIONS[at] for at in DISTRACTION_LADDER]
    promised = [ladder.index(name) for name in _promised(bars) if name in ladder]
    harder = max(promised, default=-1) + 1
    by_name = {bar.name: bar for bar in bars}
    if ALL in by_name:
        return () if _passes(by_name[ALL]) else (_unsure(by_name[ALL], ""),)
    lines = []
    for at in DISTRACTION_LADDER[harder:]:
        bar = by_name.get(SITUATIONS[at])
        if bar is not None:
            lines.append(_unsure(bar, _failed_before(bars, bar)))
        elif at in tried:
            lines.append(f"Coming {SITUATIONS[at]}: not tried lately, do not rely on it.")
        else:
            lines.append(f"Coming {SITUATIONS[at]}: not trained yet.")
    return tuple(lines)


def _unsure(bar: CallBar, easier: str) -> str:
    if bar.of < FEW_EXERCISES:
        return f"Coming {bar.name}: tried only {times_words(bar.of)}, do not rely on it."
    but = f" Not {easier} either, so not sure yet." if easier and _passes(bar) else " Not sure yet."
    return f"Coming {bar.name}: {bar.came} of {bar.of} at the first call{_helped(bar)}.{but}"


def _promised(bars: Sequence[CallBar]) -> tuple[str, ...]:
    """The situations in which it is promised to come."""
    return tuple(bar.name for bar in bars if _passes(bar) and not _failed_before(bars, bar))


def _failed_before(bars: Sequence[CallBar], bar: CallBar) -> str:
    """An easier situation in which it was tried often and does not come surely; "" for none."""
    easier = bars[: bars.index(bar)]
    return next((one.name for one in easier if one.of >= FEW_EXERCISES and not _passes(one)), "")


def _passes(bar: CallBar) -> bool:
    return bar.of >= FEW_EXERCISES and bar.came >= PROMISED * bar.of


def _helped(bar: CallBar) -> str:
    """The calls that do not count, since it may have been the collar that it answered."""
    return (
        f" (and {bar.helped} with the collar's button, or nothing said of it)" if bar.helped else ""
    )
