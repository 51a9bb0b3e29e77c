"""Is the collar on as it should be: fit, contact, test and coat, before a press means anything."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

from voicelog.model import Mark
from voicelog.model.domain import COLLAR_OFF
from voicelog.safety.rule import RuleMatch, press_words, rule
from voicelog.safety.rule_context import LevelPress, RuleContext

__all__ = ["RULES"]

FELT = frozenset({"complied", "slow", "partial"})
"""Outcomes after which a level is taken to have been felt."""


@dataclass(slots=True)
class _FitCheck:
    checked: bool = False
    used: bool = False


@rule("fit-missing", "caution", once=True)
def fit_missing(view: RuleContext) -> Iterator[RuleMatch]:
    """Stimulation before a fit check in this wearing.

    "collar fitted" begins a new wearing only once the last check was used: the check and
    the fitting are said in either order.
    """
    now = view.kept(_FitCheck)
    for mark, press, _ in view.timeline:
        if press is not None:
            if not now.checked:
                yield RuleMatch(
                    mark.entry,
                    (mark,),
                    f"Level {press.level} was used{view.where(mark)} before a fit check.",
                    "Check the fit each time the collar goes on, and note it: fit check two "
                    "fingers.",
                )
            now.used = True
        elif mark.kind == "equipment":
            if mark.name == "fit" and view.sure(mark):
                now.checked, now.used = True, False
            elif mark.name == "collar" and (
                mark.value in COLLAR_OFF or (mark.value == "fitted" and now.used)
            ):
                now.checked = False


@dataclass(slots=True)
class _PoorContact:
    marks: list[Mark] = field(default_factory=list)


@rule("contact-poor", "caution")
def contact_poor(view: RuleContext) -> Iterator[RuleMatch]:
    """Stimulation after "no contact" without a new fit or "contact solid"."""
    poor = view.kept(_PoorContact)
    for mark, press, _ in view.timeline:
        if press is not None:
            for cause in poor.marks:
                yield RuleMatch(
                    cause.entry,
                    (cause, mark),
                    f"Level {press.level} was used{view.where(mark)} after no contact was said.",
                    "After no contact, fit the collar again and note contact solid before going "
                    "on.",
                )
        elif mark.kind == "equipment":
            if mark.name == "contact" and mark.value == "none":
                poor.marks.append(mark)
            elif view.sure(mark) and (
                mark.name in ("fit", "contact") or (mark.name, mark.value) == ("collar", "fitted")
            ):
                poor.marks = [cause for cause in poor.marks if cause.entry == mark.entry]


@dataclass(slots=True)
class _WrongFit:
    standing: list[Mark] = field(default_factory=list)


@rule("fit-wrong", "caution", "fit_least", "fit_most")
def fit_wrong(view: RuleContext) -> Iterator[RuleMatch]:
    """Vibrate, tone or stimulation under a collar that is too tight or too loose, until it is
    fitted again and checked."""
    low, high = view.thresholds.fit_least, view.thresholds.fit_most

    def fault(mark: Mark) -> str | None:
        if mark.name != "fit" or not isinstance(mark.value, int):
            return None
        if low <= mark.value <= high:
            return None
        how = "tight" if mark.value < low else "loose"
        return f"with {_fingers(mark.value)} under the collar, which is too {how}"

    yield from _used_in_spite(
        view,
        view.kept(_WrongFit),
        fault,
        "Collar off, fit it again to two fingers, and note the fit check before going on.",
    )


@dataclass(slots=True)
class _FailedTest:
    standing: list[Mark] = field(default_factory=list)


@rule("test-failed", "caution")
def collar_failed(view: RuleContext) -> Iterator[RuleMatch]:
    """Vibrate, tone or stimulation after the collar's test failed, until a test is good."""
    yield from _used_in_spite(
        view,
        view.kept(_FailedTest),
        lambda mark: "after its test had failed" if _is(mark, "test", "failed") else None,
        "Do not work with a collar that failed its test: mend it, test it, and note test good.",
    )


@dataclass(slots=True)
class _WetCoat:
    standing: list[Mark] = field(default_factory=list)


@rule("coat-wet", "remark", once=True)
def coat_wet(view: RuleContext) -> Iterator[RuleMatch]:
    """Stimulation while the coat is wet: the same level may be felt otherwise than in a dry one."""
    yield from _used_in_spite(
        view,
        view.kept(_WetCoat),
        lambda mark: "while the coat was wet" if _is(mark, "coat", "wet") else None,
        "In a wet coat a level may be felt otherwise: dry the coat under the points, or work "
        "without the button.",
        of_collar=False,
    )


@dataclass(slots=True)
class _RaisedRun:
    """Presses since the last reaction, and rises without contact, each with where it began."""

    run: list[LevelPress] = field(default_factory=list)
    waiting: list[tuple[Mark, int]] = field(default_factory=list)
    back: bool = False


@rule("raised-unfelt", "caution")
def raised_unfelt(view: RuleContext) -> Iterator[RuleMatch]:
    """A level raised while there was no contact, and one above where that rise began used once
    contact was back."""
    now = view.kept(_RaisedRun)
    for mark, press, _ in view.timeline:
        if press is not None:
            for cause, low in now.waiting if now.back else ():
                if press.level > low:
                    yield RuleMatch(
                        cause.entry,
                        (cause, mark),
                        f"Level {press.level} was used{view.where(mark)} once contact was back; it "
                        f"was raised from {low} while there was none.",
                        "What a dog does not feel says nothing: never above the level where that "
                        "rise began.",
                    )
            if now.back and view.sure(mark):
                now.waiting = []
            now.run.append(press)
        elif mark.kind == "equipment":
            if _is(mark, "contact", "none"):
                levels = [one.level for one in now.run]
                if levels and min(levels) < max(levels):
                    now.waiting.append((mark, min(levels)))
                now.run, now.back = [], False
            elif mark.name in ("contact", "fit") or _is(mark, "collar", "fitted"):
                now.back = True
        elif view.sure(mark) and (
            (mark.kind == "sign" and mark.value != "none")
            or (mark.kind == "outcome" and mark.name in FELT)
        ):
            now.run = []


def _used_in_spite(
    view: RuleContext,
    now: _WrongFit | _FailedTest | _WetCoat,
    fault: Callable[[Mark], str | None],
    advice: str,
    *,
    of_collar: bool = True,
) -> Iterator[RuleMatch]:
    """Each fault said of the equipment, with the first press that was given in spite of it.

    A sure mark of the same name that has no fault ends it. One `of_collar` bears on vibrate and
    tone as well, and ends when the collar comes off.
    """
    for mark, press, _ in view.timeline:
        if mark.kind == "press":
            if press is None and not of_collar:
                continue
            for cause in now.standing:
                yield RuleMatch(
                    cause.entry,
                    (cause, mark),
                    f"{press_words(mark)} was used{view.where(mark)} {fault(cause)}.",
                    advice,
                )
        elif mark.kind == "equipment":
            if fault(mark):
                now.standing.append(mark)
            elif view.sure(mark):
                is_off = of_collar and mark.name == "collar" and mark.value in COLLAR_OFF
                now.standing = [one for one in now.standing if one.name != mark.name and not is_off]


def _is(mark: Mark, name: str, value: str) -> bool:
    return mark.name == name and mark.value == value


def _fingers(many: int) -> str:
    return "no finger" if many == 0 else f"{many} finger{'' if many == 1 else 's'}"


RULES = (fit_missing, contact_poor, fit_wrong, collar_failed, coat_wet, raised_unfelt)
