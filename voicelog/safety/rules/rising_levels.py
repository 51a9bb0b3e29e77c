"""Rising levels that change nothing: a bad contact, or a task that is too hard.

What counts is the longest run of rising levels since the last sure reaction. Another entry
among them, doubtful or not, cannot make that run shorter.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from voicelog.model import Mark
from voicelog.safety.rule import RuleMatch, rule
from voicelog.safety.rule_context import LevelPress, RuleContext
from voicelog.safety.rules.ending import FAILED

__all__ = ["RULES"]


@dataclass(slots=True)
class _Rise:
    """The longest rising runs: for each length, the one that ends lowest. `last` is the last
    press with a level."""

    runs: tuple[tuple[int, tuple[Mark, ...]], ...] = ()
    last: LevelPress | None = None

    def add(self, level: int, mark: Mark) -> tuple[Mark, ...]:
        """The longest rising run that ends with this mark."""
        below = sum(top < level for top, _ in self.runs)
        run = (*self.runs[below - 1][1], mark) if below else (mark,)
        self.runs = (*self.runs[:below], (level, run), *self.runs[below + 1 :])
        return run


class _QuietRise(_Rise):
    """Of levels at which nothing was seen."""


class _FailedRise(_Rise):
    """Of levels at which it failed."""


@rule("no-reaction-rising", "caution", "quiet_rises")
def no_reaction_rising(view: RuleContext) -> Iterator[RuleMatch]:
    """Nothing at three rising levels, and a further rise before contact or fit was spoken of.

    One finding for each of the two, however long it goes on.
    """
    most = view.thresholds.quiet_rises
    advice = "Check contact and fit, and note what you found, before any change of level."
    rise = view.kept(_QuietRise)
    for mark, press, _ in view.timeline:
        last = rise.last
        if press is not None:
            rise.last = press
            if len(rise.runs) >= most and press.level > rise.runs[most - 1][0]:
                message = f"Up again to level {press.level}{view.where(mark)} with no check said."
                yield RuleMatch("rise", (*rise.runs[most - 1][1], mark), message, advice)
        elif mark.kind == "sign" and mark.value == "none":
            if last is not None and last.mark.rep == mark.rep:
                run = rise.add(last.level, mark)
                if len(run) >= most:
                    message = f"Nothing at {len(run)} rising levels, up to {last.level}"
                    yield RuleMatch("nothing", run, f"{message}{view.where(mark)}.", advice)
        elif view.sure(mark) and (
            mark.kind == "sign"
            or (mark.kind == "outcome" and mark.name in ("complied", "slow", "partial"))
            or (mark.kind == "equipment" and mark.name in ("fit", "contact"))
        ):
            rise.runs = ()


@rule("three-failed", "caution", "failed_rises")
def three_failed(view: RuleContext) -> Iterator[RuleMatch]:
    """Failures in a row at rising levels: the task is too hard, whatever the level."""
    most = view.thresholds.failed_rises
    rise = view.kept(_FailedRise)
    for mark, press, _ in view.timeline:
        if press is not None:
            rise.last = press
        last = rise.last
        if mark.kind != "outcome":
            continue
        if mark.name in FAILED:
            if last is not None and last.mark.rep == mark.rep:
                run = rise.add(last.level, mark)
                if len(run) >= most:
                    yield RuleMatch(
                        mark.entry,
                        run,
                        f"{len(run)} failures in a row at rising levels, up to {last.level}"
                        f"{view.where(mark)}.",
                        "Make it easier: shorter, quieter, or with the line.",
                    )
        elif mark.name != "unknown" and view.sure(mark):
            rise.runs = ()


RULES = (no_reaction_rising, three_failed)
