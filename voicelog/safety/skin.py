"""The skin under the contact points, which decides whether a collar goes on at all."""

from __future__ import annotations

from collections.abc import Iterator

from voicelog.model import Mark
from voicelog.safety.rule import Sighting, rule
from voicelog.safety.view import View

__all__ = ["RULES"]

INJURY = (
    "pressure injury after long wear is published (Walmsley, Day, Nash, Aust Vet Pract "
    "52(1):32-40, 2022, one case); resting the skin is common practice"
)
_ADVICE = {
    "red": "Collar off. Rest the skin until it is clear.",
    "sore": "Collar off. See a veterinarian before it is fitted again.",
}


@rule("skin", "stop", basis=INJURY)
def skin(view: View) -> Iterator[Sighting]:
    """Red or sore skin, and a collar fitted or used before the skin was clear again."""
    bad = view.history.skin if view.history.skin in _ADVICE else None
    said: Mark | None = None
    for mark, press, _ in view.timeline:
        if mark.kind == "equipment" and mark.name == "skin":
            if mark.value in _ADVICE:
                bad, said = str(mark.value), mark
                yield Sighting(mark.entry, (mark,), f"The skin is {bad}.", _ADVICE[bad])
            elif view.sure(mark):
                bad, said = None, None
        elif bad and (press or (mark.kind, mark.value) == ("equipment", "fitted")):
            what = f"level {press.level} was used" if press else "the collar was fitted"
            yield Sighting(
                said.entry + "+" if said else "before",
                (said, mark) if said else (mark,),
                f"The skin was {bad} and not said to be clear, and {what}{view.where(mark)}.",
                _ADVICE[bad],
            )


RULES = (skin,)
