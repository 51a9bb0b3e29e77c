"""Is the collar on as it should be: fit and contact before a press means anything."""

from __future__ import annotations

from collections.abc import Iterator

from voicelog.model import Mark
from voicelog.safety.rule import RuleMatch, rule
from voicelog.safety.rule_context import RuleContext

__all__ = ["RULES"]


@rule("fit-missing", "caution", once=True)
def fit_missing(view: RuleContext) -> Iterator[RuleMatch]:
    """Stimulation before a fit check in this wearing.

    "collar fitted" begins a new wearing only once the last check was used: the check and
    the fitting are said in either order.
    """
    checked = used = False
    for mark, press, _ in view.timeline:
        if press is not None:
            if not checked:
                yield RuleMatch(
                    mark.entry,
                    (mark,),
                    f"Level {press.level} was used{view.where(mark)} before a fit check.",
                    "Check the fit each time the collar goes on, and say so: fit check two "
                    "fingers.",
                )
            used = True
        elif mark.kind == "equipment":
            if mark.name == "fit" and view.sure(mark):
                checked, used = True, False
            elif mark.name == "collar" and (
                mark.value in ("stripped", "slipped") or (mark.value == "fitted" and used)
            ):
                checked = False


@rule("contact-poor", "caution")
def contact_poor(view: RuleContext) -> Iterator[RuleMatch]:
    """Stimulation after "no contact" without a new fit or "contact solid"."""
    poor: list[Mark] = []
    for mark, press, _ in view.timeline:
        if press is not None:
            for cause in poor:
                yield RuleMatch(
                    cause.entry,
                    (cause, mark),
                    f"Level {press.level} was used{view.where(mark)} after no contact was said.",
                    "After no contact, fit the collar anew and say contact solid before going on.",
                )
        elif mark.kind == "equipment":
            if mark.name == "contact" and mark.value == "none":
                poor.append(mark)
            elif view.sure(mark) and (
                mark.name in ("fit", "contact") or (mark.name, mark.value) == ("collar", "fitted")
            ):
                poor = [cause for cause in poor if cause.entry == mark.entry]


RULES = (fit_missing, contact_poor)
