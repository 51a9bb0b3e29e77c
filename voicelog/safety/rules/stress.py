"""What the body said: signs of stress, and what the next press did about them.

Which signs are strong and which weak is the grammar's business; see the ethograms of
Schilder & van der Borg (2004) and Vieira de Castro et al. (2020).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from voicelog.model import Mark
from voicelog.model.aggression import AGGRESSION_SIGNS
from voicelog.model.day_words import date_words
from voicelog.model.dial import level_below
from voicelog.safety.advice import PROFESSIONAL, STOP_NOW_ADVICE
from voicelog.safety.rule import RuleMatch, press_words, rule
from voicelog.safety.rule_context import RuleContext, StrongSign

__all__ = ["RULES"]

SIGNS = (
    "signs after Schilder & van der Borg, Appl Anim Behav Sci 85:319-334, 2004; "
    "what to do about them is common practice"
)

FEAR_SIGNS = frozenset({"cowered", "rolled over", "wet himself", "wet herself"})
"""Strong signs of fear after which the button is done with; which they are is common practice."""

NONE_LOW = "No level is low enough: no stimulation."
NO_BUTTON = "What work there still is goes without the button."


@rule("stress-strong", "caution", "ease_steps", basis=SIGNS, live=["at once"])
def stress_strong(view: RuleContext) -> Iterator[RuleMatch]:
    """Any strong sign; signs of one breath are one finding."""
    for sign in view.strong:
        together = [other for other in view.strong if other.mark.entry == sign.mark.entry]
        names = ", ".join(dict.fromkeys(other.mark.name for other in together))
        level = sign.to.value if sign.to is not None else None
        barred = f" {_barred(view, level)}" if isinstance(level, int) else ""
        yield RuleMatch(
            sign.mark.entry,
            tuple(other.mark for other in together),
            f"Strong sign{view.where(sign.mark)}{_to(view, sign)}: {names}.",
            "At such a sign thumb off at once, a minute of rest, and look at fit and coat."
            + barred,
        )


@dataclass(slots=True)
class _NotEased:
    waiting: list[StrongSign] = field(default_factory=list)


@rule("stress-not-eased", "stop", "ease_steps", basis=SIGNS)
def stress_not_eased(view: RuleContext) -> Iterator[RuleMatch]:
    """The next press after a strong sign is not at least two steps below the last one, or no
    level is that low."""
    down = view.thresholds.ease_steps
    now = view.kept(_NotEased)
    for mark, press, strong in view.timeline:
        if strong is not None:
            now.waiting.append(strong)
        if press is None or not now.waiting:
            continue
        for sign in now.waiting:
            if not sign.before:
                continue
            limits = [level_below(view.unit, before.level, down) for before in sign.before]
            limit = None if None in limits else min(one for one in limits if one is not None)
            if limit is None or press.level > limit:
                last = min(before.level for before in sign.before)
                yield RuleMatch(
                    mark.entry,
                    (sign.mark, mark),
                    f"{sign.mark.name.capitalize()} {_at(view, sign)} level {last}, and the next "
                    f"was level {press.level}{view.where(mark)}.",
                    f"End the session at such a sign. {NONE_LOW if limit is None else NO_BUTTON}",
                )
        if view.sure(mark):
            now.waiting = []


@dataclass(slots=True)
class _SignsToday:
    """The strong signs so far; whether they ended the day, None before earlier sessions were taken
    in; the rep of the last one."""

    seen: list[Mark] = field(default_factory=list)
    ended: bool | None = None
    at: int | None = None


@rule("stress-twice", "stop", "strong_signs", "ending_signs", basis=SIGNS)
def stress_twice(view: RuleContext) -> Iterator[RuleMatch]:
    """The strong sign that ends the day's stimulation, and any stimulation after it; a growl, a
    snap or a bite ends the session, and any work after it is a stop."""
    thresholds = view.thresholds
    today = [sign for sign in view.history.strong if view.history.same_day(sign.at)]
    ending = any(sign.sign in thresholds.ending_signs for sign in today)
    now = view.kept(_SignsToday)
    seen = now.seen
    if now.ended is None:
        now.ended = ending or len(today) >= thresholds.strong_signs
    advice = (
        "After such a sign no more stimulation that day. Finish with something the dog knows, "
        "no button."
    )
    for mark, press, strong in view.timeline:
        if strong is not None:
            seen.append(mark)
            now.at = mark.rep
            if mark.name in thresholds.ending_signs:
                ends = "the session" if mark.name in AGGRESSION_SIGNS else "it"
                what = f"{mark.name.capitalize()}{view.where(mark)}: this sign ends {ends} at once."
                yield RuleMatch(mark.entry, (mark,), what, advice)
                now.ended = True
            elif len(today) + len(seen) >= thresholds.strong_signs:
                what = f"Strong sign number {len(today) + len(seen)} today{view.where(mark)}."
                yield RuleMatch(mark.entry, tuple(seen), what, advice)
                now.ended = True
        elif press is not None and now.ended:
            what = f"Level {press.level}{view.where(mark)} after stimulation was over for the day."
            on = STOP_NOW_ADVICE if view.over(mark) else advice
            yield RuleMatch(mark.entry, (*seen[-1:], mark), what, on)
        elif mark.kind in ("cue", "press") and view.over(mark) and mark.rep != now.at:
            what = f"Work went on{view.where(mark)} after the session was over for the day."
            yield RuleMatch("went on", (*seen[-1:], mark), what, STOP_NOW_ADVICE)


@dataclass(slots=True)
class _StressLevels:
    """The lowest level with a strong sign, what the sign was, and its mark if it is of today; None
    before earlier sessions were taken in."""

    lowest: tuple[int, str, Mark | None] | None = None
    begun: bool = False


@rule("stress-level-again", "caution", "ease_steps", basis=SIGNS, once=True, live=["each press"])
def stress_level_again(view: RuleContext) -> Iterator[RuleMatch]:
    """A level less than two steps below one at which this dog showed a strong sign before."""
    past = view.history
    now = view.kept(_StressLevels)
    if not now.begun:
        now.begun = True
        for sign in past.strong if past.transmitter == view.session.dog.transmitter else ():
            if sign.level is not None and (now.lowest is None or sign.level < now.lowest[0]):
                day = f" on {date_words(sign.at)}" if sign.at else " before"
                now.lowest = sign.level, f"{sign.sign}{day}", None
    for mark, press, strong in view.timeline:
        level = strong.to.value if strong is not None and strong.to is not None else None
        if isinstance(level, int) and (now.lowest is None or level < now.lowest[0]):
            where = view.where(mark) if strong and _to(view, strong) else " in this session"
            now.lowest = level, f"{mark.name}{where}", mark
        if press is None or now.lowest is None:
            continue
        level, what, sign_mark = now.lowest
        limit = level_below(view.unit, level, view.thresholds.ease_steps)
        if limit is None or press.level > limit:
            yield RuleMatch(
                mark.entry,
                (mark,) if sign_mark is None else (sign_mark, mark),
                f"Level {press.level} was used{view.where(mark)}; level {level} had a strong sign: "
                f"{what}.",
                view.cannot_be(press.level, level)
                or (NONE_LOW if limit is None else "Never so high again."),
            )


@dataclass(slots=True)
class _Resting:
    signs: list[Mark] = field(default_factory=list)


@rule("no-rest", "caution", "rest_s", "mostly_share", "narrator_s", basis=SIGNS)
def no_rest(view: RuleContext) -> Iterator[RuleMatch]:
    """The next press of any kind came before a minute of rest after a strong sign."""
    rest_s = view.thresholds.rest_s
    now = view.kept(_Resting)
    for mark, _, strong in view.timeline:
        if strong is not None:
            now.signs.append(mark)
        elif mark.kind == "press":
            for sign in now.signs:
                if view.mostly_below(sign, mark, rest_s) is not None:
                    yield RuleMatch(
                        sign.entry,
                        (sign, mark),
                        f"{press_words(mark)} was used{view.where(mark)} about "
                        f"{mark.at_s - sign.at_s:.0f} s after {_dog_did(sign.name)}.",
                        f"After a strong sign thumb off for {rest_s:g} s at least, and longer "
                        "where the dog is not calm.",
                    )
            if view.sure(mark):
                now.signs = [sign for sign in now.signs if sign.entry == mark.entry]


@dataclass(slots=True)
class _Feared:
    """The first sign of fear, and the first of another entry."""

    signs: tuple[Mark, ...] = ()


@rule("fear-went-on", "caution", basis=SIGNS, once=True, live=["each press"])
def fear_went_on(view: RuleContext) -> Iterator[RuleMatch]:
    """A press of any kind after the dog cowered, rolled over or wet itself on this day.

    Work that goes on after a growl, a snap or a bite is the business of stress-twice.
    """
    before = [
        sign.sign
        for sign in view.history.strong
        if sign.sign in FEAR_SIGNS and view.history.same_day(sign.at)
    ]
    now = view.kept(_Feared)
    for mark, _, strong in view.timeline:
        if strong is not None and mark.name in FEAR_SIGNS:
            if not now.signs or (len(now.signs) == 1 and now.signs[0].entry != mark.entry):
                now.signs = (*now.signs, mark)
        elif mark.kind == "press":
            after = [sign for sign in now.signs if sign.entry != mark.entry][:1]
            if after or before:
                named = (
                    f"{_dog_did(after[0].name)}{view.where(after[0])}"
                    if after
                    else _dog_did(before[-1])
                )
                yield RuleMatch(
                    mark.entry,
                    (*after, mark),
                    f"{press_words(mark)} was used{view.where(mark)} after {named} on this day.",
                    "A dog that shows such fear is done with the button for the day: something "
                    f"easy that it knows, and rest. Where it happens again, ask {PROFESSIONAL}.",
                )


_OTHERWISE = {
    "lowered": "lowered its body",
    "tail tucked": "tucked its tail",
    "growling": "growled",
    "wet himself": "wet itself",
    "wet herself": "wet itself",
    "bit me": "bit its handler",
}
"""Strong signs that are not said of a dog as they are kept."""
_AS_KEPT = frozenset(
    ("yelped", "vocalised", "squealed", "screamed", "froze", "cowered", "crouched", "bolted")
) | {"flinched", "rolled over", "snapped", "bit the collar", "shut down"}


def _dog_did(sign: str) -> str:
    """A strong sign as part of a sentence; one of the trainer's own words is quoted."""
    if sign in _OTHERWISE or sign in _AS_KEPT:
        return f"the dog {_OTHERWISE.get(sign, sign)}"
    return f"the sign '{sign}'"


def _barred(view: RuleContext, level: int) -> str:
    wrong = view.cannot_be(level)
    if wrong:
        return wrong
    lower = level_below(view.unit, level, view.thresholds.ease_steps)
    return NONE_LOW if lower is None else "No level near it again that day."


def _at(view: RuleContext, sign: StrongSign) -> str:
    """How a sign stands to the last level before it: at it, or only after it."""
    levels = [press.mark for press in sign.before]
    return "at" if _to(view, sign) and sign.to in levels else "after"


def _to(view: RuleContext, sign: StrongSign) -> str:
    """ " at level 3", or nothing where what was pressed last is of no rep, or shown in another:
    what lies between them is to check."""
    if sign.to is None or view.number(sign.to) != view.number(sign.mark):
        return ""
    return f" at {sign.to.name if sign.to.value is None else f'level {sign.to.value}'}"


RULES = (
    stress_strong,
    stress_not_eased,
    stress_twice,
    stress_level_again,
    no_rest,
    fear_went_on,
)
