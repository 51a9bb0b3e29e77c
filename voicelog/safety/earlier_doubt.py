"""Findings that rest on what is in doubt of an earlier session: each says so itself.

Who reads "based on an entry to check" looks for that entry in the session at hand, and would not
find it there.
"""

from __future__ import annotations

from collections.abc import Mapping

from voicelog.model import Finding
from voicelog.safety.rule_walk import WatchedSession

__all__ = ["EARLIER", "EarlierDoubt"]

EARLIER = "Perhaps: what it is based on in an earlier session is to check, or has no date."
"""What such a finding says of itself."""

Found = Mapping[str, Finding]
_NOTHING: Found = {}


class EarlierDoubt:
    """Marks what only the doubt of earlier sessions brings, each time that the rules found more;
    what was marked and is the same is the same object again."""

    def __init__(self) -> None:
        self._known: dict[str, tuple[Found, Found, Found]] = {}

    def told(self, found: Mapping[str, Found], plain: WatchedSession | None) -> Mapping[str, Found]:
        """What the rules `found`, by rule and anchor; `plain` is the same session beside what is
        sure of the earlier ones, None where all of them is."""
        if plain is None:
            return found
        return {
            rule: self._of(rule, some, plain.found.get(rule, _NOTHING))
            for rule, some in found.items()
        }

    def _of(self, rule: str, found: Found, plain: Found) -> Found:
        then, then_plain, then_told = self._known.get(rule, (_NOTHING, _NOTHING, _NOTHING))
        if then is found and then_plain is plain:
            return then_told
        told = {}
        for anchor, one in found.items():
            if anchor in plain:
                told[anchor] = one
            elif then.get(anchor) is one and anchor not in then_plain:
                told[anchor] = then_told[anchor]
            else:
                told[anchor] = one.model_copy(update={"message": f"{one.message} {EARLIER}"})
        self._known[rule] = found, plain, told
        return told
