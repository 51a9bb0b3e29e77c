"""The skin under the contact points: how it is, how long it was covered, and where."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta

from voicelog.model import Mark
from voicelog.safety.rule import RuleMatch, rule
from voicelog.safety.rule_context import RuleContext
from voicelog.safety.wear import WearInterval, WearSoFar

__all__ = ["RULES"]

INJURY = (
    "pressure injury after long wear is published (Walmsley, Day, Nash, Aust Vet Pract "
    "52(1):32-40, 2022, one case); the limit is common practice"
)
_ADVICE = {
    "red": "Collar off. Rest the skin until it is clear.",
    "sore": "Collar off. See a veterinarian before it is fitted again.",
}


@dataclass(slots=True)
class _Skin:
    """How the skin is, where that is bad, and where it was said; what earlier sessions left is
    taken in first."""

    bad: str | None = None
    said: Mark | None = None
    begun: bool = False


@rule("skin", "stop", basis=INJURY, stands=True)
def skin(view: RuleContext) -> Iterator[RuleMatch]:
    """Red or sore skin, and a collar fitted or used before the skin was clear again."""
    now = view.kept(_Skin)
    if not now.begun:
        now.bad, now.begun = view.history.skin if view.history.skin in _ADVICE else None, True
    for mark, press, _ in view.timeline:
        bad, said = now.bad, now.said
        if mark.kind == "equipment" and mark.name == "skin":
            if mark.value in _ADVICE:
                now.bad, now.said = str(mark.value), mark
                yield RuleMatch(mark.entry, (mark,), f"The skin is {now.bad}.", _ADVICE[now.bad])
            elif view.sure(mark):
                now.bad, now.said = None, None
        elif bad and (press or (mark.kind, mark.value) == ("equipment", "fitted")):
            what = f"level {press.level} was used" if press else "the collar was fitted"
            clear = "clear" if said else "clear on a later day"
            yield RuleMatch(
                f"{said.entry}+" if said else "before",
                (said, mark) if said else (mark,),
                f"The skin was {bad} and was not said to be {clear} before {what}"
                f"{view.where(mark)}.",
                _ADVICE[bad],
            )


@rule(
    "wear-long",
    "caution",
    "wear_h",
    "wear_day_h",
    basis=INJURY,
    stands=True,
    anew=True,
    live=["lasting", "by time"],
)
def wear_long(view: RuleContext) -> Iterator[RuleMatch]:
    """Worn too long at a stretch, or too long in a day."""
    past, limits = view.history, view.thresholds
    day_s = past.worn_s
    worn = view.kept(WearSoFar)
    for mark, _, _ in view.timeline:
        worn.take(mark, is_sure=view.sure(mark))
    for place, stretch in enumerate(worn.stretches(view.session)):
        start_s = stretch.start_s
        if place == 0 and not stretch.fitted and past.worn_since and past.at:
            start_s = view.session.start_s - (past.at - past.worn_since).total_seconds()
            between = past.at - past.last_worn if past.last_worn else timedelta()
            day_s += between.total_seconds() + stretch.start_s - view.session.start_s
        if stretch.end_s - start_s > limits.wear_h * 3600:
            since_s = start_s + limits.wear_h * 3600
            yield _long(view, worn, stretch, since_s, "at a stretch", limits.wear_h)
        left_s = limits.wear_day_h * 3600 - day_s
        day_s += stretch.end_s - stretch.start_s
        if day_s > limits.wear_day_h * 3600:
            since_s = stretch.start_s + left_s
            yield _long(view, worn, stretch, since_s, "in a day", limits.wear_day_h)


def _long(
    view: RuleContext,
    worn: WearSoFar,
    stretch: WearInterval,
    since_s: float,
    what: str,
    hours: float,
) -> RuleMatch:
    later = worn.first_after(max(since_s, stretch.start_s), view.session)
    return RuleMatch(
        what,
        (stretch.began, later or stretch.began),
        f"The collar was worn for more than {hours:g} h {what}.",
        "Collar off. Look at the skin, and let it rest before it is fitted again.",
    )


@dataclass(slots=True)
class _Site:
    turned: bool = False


@rule("same-site", "caution", "same_site_h", basis=INJURY, once=True)
def same_site(view: RuleContext) -> Iterator[RuleMatch]:
    """The button was used again on what may be the same site: "collar turned" was not said since
    the session before. That the collar came off and was fitted again says nothing of where it sits.
    """
    past = view.history
    if past.last_worn is None or past.at is None or past.turned:
        return
    if past.at - past.last_worn > timedelta(hours=view.thresholds.same_site_h):
        return
    now = view.kept(_Site)
    for mark, _, _ in view.timeline:
        if mark.kind == "equipment" and mark.value == "turned" and view.sure(mark):
            now.turned = True
        if mark.kind == "press" and not now.turned:
            yield RuleMatch(
                mark.entry,
                (mark,),
                f"The collar was used{view.where(mark)}, and since the session before nobody said "
                "that it was turned.",
                "Turn the collar between sessions, also where it came off and was fitted again, "
                "and note it: collar turned. No site is to be under the points all day.",
            )


RULES = (skin, wear_long, same_site)
