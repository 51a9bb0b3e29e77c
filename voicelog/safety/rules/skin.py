"""The skin under the contact points: how it is, how long it was covered, and where."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

from voicelog.model import Mark
from voicelog.safety.rule import RuleMatch, rule
from voicelog.safety.rule_context import RuleContext
from voicelog.safety.wear import WearInterval, wear_intervals

__all__ = ["RULES"]

INJURY = (
    "pressure injury after long wear is published (Walmsley, Day, Nash, Aust Vet Pract "
    "52(1):32-40, 2022, one case); the limit is common practice"
)
_ADVICE = {
    "red": "Collar off. Rest the skin until it is clear.",
    "sore": "Collar off. See a veterinarian before it is fitted again.",
}


@rule("skin", "stop", basis=INJURY, stands=True)
def skin(view: RuleContext) -> Iterator[RuleMatch]:
    """Red or sore skin, and a collar fitted or used before the skin was clear again."""
    bad = view.history.skin if view.history.skin in _ADVICE else None
    said: Mark | None = None
    for mark, press, _ in view.timeline:
        if mark.kind == "equipment" and mark.name == "skin":
            if mark.value in _ADVICE:
                bad, said = str(mark.value), mark
                yield RuleMatch(mark.entry, (mark,), f"The skin is {bad}.", _ADVICE[bad])
            elif view.sure(mark):
                bad, said = None, None
        elif bad and (press or (mark.kind, mark.value) == ("equipment", "fitted")):
            what = f"level {press.level} was used" if press else "the collar was fitted"
            yield RuleMatch(
                f"{said.entry}+" if said else "before",
                (said, mark) if said else (mark,),
                f"The skin was {bad} and not said to be clear, and {what}{view.where(mark)}.",
                _ADVICE[bad],
            )


@rule(
    "wear-long",
    "caution",
    "wear_h",
    "wear_day_h",
    basis=INJURY,
    stands=True,
    live=["lasting", "by time"],
)
def wear_long(view: RuleContext) -> Iterator[RuleMatch]:
    """Worn too long at a stretch, or too long in a day."""
    past, limits = view.history, view.thresholds
    day_s = past.worn_s
    for place, stretch in enumerate(wear_intervals(view.session, view.doubtful)):
        start_s = stretch.start_s
        if place == 0 and not stretch.fitted and past.worn_since and past.at:
            start_s = view.session.start_s - (past.at - past.worn_since).total_seconds()
            between = past.at - past.last_worn if past.last_worn else timedelta()
            day_s += between.total_seconds() + stretch.start_s - view.session.start_s
        if stretch.end_s - start_s > limits.wear_h * 3600:
            yield _long(
                view, stretch, start_s + limits.wear_h * 3600, "at a stretch", limits.wear_h
            )
        left_s = limits.wear_day_h * 3600 - day_s
        day_s += stretch.end_s - stretch.start_s
        if day_s > limits.wear_day_h * 3600:
            yield _long(view, stretch, stretch.start_s + left_s, "in a day", limits.wear_day_h)


def _long(
    view: RuleContext, stretch: WearInterval, since_s: float, what: str, hours: float
) -> RuleMatch:
    later = (mark for mark in view.session.marks if mark.at_s > max(since_s, stretch.start_s))
    return RuleMatch(
        what,
        (stretch.began, next(later, stretch.began)),
        f"The collar was worn for more than {hours:g} h {what}.",
        "Collar off. Look at the skin, and let it rest before it is fitted again.",
    )


@rule("same-site", "caution", "same_site_h", basis=INJURY, once=True)
def same_site(view: RuleContext) -> Iterator[RuleMatch]:
    """The button was used again on the same site: not turned since the session before."""
    past = view.history
    if past.last_worn is None or past.at is None or past.turned:
        return
    if past.at - past.last_worn > timedelta(hours=view.thresholds.same_site_h):
        return
    for mark, _, _ in view.timeline:
        if mark.kind == "equipment" and mark.value == "turned" and view.sure(mark):
            return
        if mark.kind == "press":
            yield RuleMatch(
                mark.entry,
                (mark,),
                f"The collar was not turned since the session before{view.where(mark)}.",
                "Turn the collar between sessions, so that no site is under the points all day.",
            )


RULES = (skin, wear_long, same_site)
