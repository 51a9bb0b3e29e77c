"""Which typed lines may tell of harm to the dog, though they were not understood.

Such a line is in no count: a yelp or red skin that is in none has to be seen first. So it is told
by letters, as broadly as a slip of the hand goes, and a line too many costs a look.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from typing import Literal, get_args

from voicelog.grammar.grammar import normalize
from voicelog.grammar.typed_slips import is_slip

__all__ = ["HarmKind", "harm_rank", "harm_told"]

HarmKind = Literal["skin", "pain or stress", "biting or growling", "ignored", "press"]
"""What a line may tell of, what weighs most first."""
_STEMS: Mapping[HarmKind, str] = {
    "skin": "skin red sore raw rash wound blood bled bleed burn swollen swell scab blister",
    "pain or stress": (
        "yelp yelped yelping cry cried cries scream squeal whine whining whimper vocalise vocalize "
        "pain hurt hurts limp limped limping lame froze freeze frozen cower cringe crouch bolt "
        "flinch tremble trembling shiver pant panting drool salivat tucked startled shut stress "
        "collapse vomit panic scared afraid"
    ),
    "biting or growling": "growl growling bit bite bites biting bitten snap snapped snarl lunge",
    "ignored": "ignored ignore blew",
    "press": (
        "press level levels tap taps tapped button stim shock zap nick nicked momentary continuous "
        "notch bump bumped vibrate vibration tone"
    ),
}
"""Words and beginnings of words. Those of stress are of the signs in the grammar; the others are
common practice, no source."""
_STEM_FROM = 4
"""Letters of the shortest that is a beginning of others."""


def harm_told(text: str) -> HarmKind | None:
    """What a text may tell of, what weighs most first; None where nothing in it lies near that."""
    found = {_kind(word) for word in normalize(text).replace("-", " ").split()}
    return next((kind for kind in get_args(HarmKind) if kind in found), None)


def harm_rank(text: str) -> int:
    """By what lines are put in order: the smaller, the more weighs what a text may tell of."""
    kinds: tuple[HarmKind, ...] = get_args(HarmKind)
    kind = harm_told(text)
    return len(kinds) if kind is None else kinds.index(kind)


@lru_cache(maxsize=50_000)
def _kind(word: str) -> HarmKind | None:
    letters = "".join(letter for letter in word if letter.isalpha())
    for kind, stems in _STEMS.items():
        if any(_is_of(letters, stem) for stem in stems.split()):
            return kind
    return None


def _is_of(word: str, stem: str) -> bool:
    return (
        word == stem
        or (len(stem) >= _STEM_FROM and word.startswith(stem))
        or (len(word) > 1 and is_slip(word, stem))
    )
