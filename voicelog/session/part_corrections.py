"""A note of which only a part is said anew: what the whole then is, and what would be lost.

Whoever corrects "here ignored level six came" types "came slow" and means the end alone. Put in
place of all of it, the call, the press and the ignoring would be gone without a word.
"""

from __future__ import annotations

from collections.abc import Sequence

from voicelog.model import Phrase
from voicelog.model.domain import FAILED
from voicelog.model.phrases import OutcomePhrase

__all__ = ["part_corrected"]


def part_corrected(
    old: Sequence[Phrase], new: Sequence[Phrase]
) -> tuple[tuple[Phrase, ...], tuple[Phrase, ...]] | None:
    """The note `old` with the phrases `new` in place of those that they correct, and what of it
    they do not speak of; None where they speak of all of its kinds, or of another.

    What the dog did before it came ("ignored") stays where only how it ended is said anew.
    """
    kinds, had = {one.kind for one in new}, {one.kind for one in old}
    if not kinds or not kinds < had:
        return None
    stays = _stay(old, new)
    places: dict[str, int] = {}
    for place, (one, kept) in enumerate(zip(old, stays, strict=True)):
        if not kept and (one.kind == "outcome" or one.kind not in places):
            places[one.kind] = place  # an outcome is how the rep ended
    merged: list[Phrase] = []
    for place, (one, kept) in enumerate(zip(old, stays, strict=True)):
        merged += [one] if kept else []
        merged += [said for said in new if places[said.kind] == place]
    return tuple(merged), tuple(one for one, kept in zip(old, stays, strict=True) if kept)


def _stay(old: Sequence[Phrase], new: Sequence[Phrase]) -> list[bool]:
    """Of each old phrase, whether it is not what the new ones correct: it is of another kind, or
    how the dog failed before it ended as they say."""
    kinds = {one.kind for one in new}
    outcomes = [one for one in old if isinstance(one, OutcomePhrase)]
    ended = [one.outcome for one in new if isinstance(one, OutcomePhrase)]
    first = outcomes[0] if len(outcomes) > 1 and outcomes[0].outcome in FAILED else None
    keeps_first = len(ended) == 1 and ended[0] not in FAILED
    return [one.kind not in kinds or (keeps_first and one is first) for one in old]
