"""How a press is given: for something asked, short, and not again and again.

Times are the narrator's, so a length is only known between two things said apart.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field

from voicelog.safety.rule import RuleMatch, rule
from voicelog.safety.rule_context import LevelPress, RuleContext

__all__ = ["RULES"]


@dataclass(slots=True)
class _HeldPresses:
    counts: Counter[int | None] = field(default_factory=Counter)
    held: list[LevelPress] = field(default_factory=list)


@rule(
    "held-long", "caution", "press_s", "rep_presses", live=["lasting", "by time", "while pressed"]
)
def held_long(view: RuleContext) -> Iterator[RuleMatch]:
    """One press longer than the set time or the collar's cut-off; too many in one rep."""
    cutoff_s = view.session.dog.transmitter.cutoff_s
    longest_s = min(view.thresholds.press_s, cutoff_s or view.thresholds.press_s)
    most = view.thresholds.rep_presses
    now = view.kept(_HeldPresses)
    for mark, press, _ in view.timeline:
        if mark.kind not in ("press", "off"):
            continue
        for before in now.held:
            lasted_s = mark.at_s - before.mark.at_s
            if lasted_s > longest_s and mark.rep == before.mark.rep:
                yield RuleMatch(
                    before.mark.entry,
                    (before.mark, mark),
                    f"Level {before.level} was held for {lasted_s:.0f} s{view.where(mark)}.",
                    f"Thumb off after {longest_s:g} s at most, and at once when the dog complies.",
                )
        if view.sure(mark):
            now.held = []
        if press is None:
            continue
        if mark.name == "continuous":
            now.held.append(press)
        now.counts[mark.rep] += 1
        if mark.rep is not None and now.counts[mark.rep] > most:
            yield RuleMatch(
                f"{mark.entry}+",
                (mark,),
                f"{now.counts[mark.rep]} presses{view.where(mark)}.",
                "Help the dog with the line and make the next rep easier.",
            )


@dataclass(slots=True)
class _Cued:
    since_s: float = float("-inf")
    rep: int | None = None


@rule("uncued", "remark", "cue_s", once=True)
def uncued(view: RuleContext) -> Iterator[RuleMatch]:
    """Stimulation with no cue heard before it; in the drill "find level" none is needed.

    A cue in the same breath counts, and so does a press of the same rep that had its own.
    """
    limit_s = view.thresholds.cue_s
    new = {mark.entry for mark, _, _ in view.timeline if mark.kind == "cue"}
    now = view.kept(_Cued)

    def has_cue(entry: str) -> bool:  # a correction's cue stands where the rep had one, long before
        marks = view.session.marks
        return entry in new or any(one.kind == "cue" and one.entry == entry for one in marks)

    for mark, press, _ in view.timeline:
        if mark.kind == "cue" and view.sure(mark):
            now.since_s, now.rep = mark.at_s, mark.rep
        if press is None or view.in_search(press):
            continue
        if mark.at_s - now.since_s <= limit_s or has_cue(mark.entry):
            if view.sure(mark) and (mark.rep == now.rep or has_cue(mark.entry)):
                now.since_s, now.rep = mark.at_s, mark.rep
            continue
        yield RuleMatch(
            mark.entry,
            (mark,),
            f"Level {press.level} was used{view.where(mark)} with no cue heard in {limit_s:g} s.",
            "Ask first, so that the dog knows what it is for; say the cue so that it is heard.",
        )


RULES = (held_long, uncued)
