"""Which typed lines may tell of harm to the dog, though they were not understood.

Such a line is in no count: a yelp or red skin that is in none has to be seen first. So it is told
by letters, as broadly as a slip of the hand goes, and a line too many costs a look.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import Literal, get_args

from voicelog.grammar.grammar import normalize
from voicelog.grammar.typed_slips import is_slip

__all__ = ["HarmKind", "harm_rank", "harm_told"]

HarmKind = Literal["skin", "pain or stress", "biting or growling", "ignored", "press"]
"""What a line may tell of, what weighs most first."""
_STEMS: Mapping[HarmKind, str] = {
    "skin": (
        "skin red sore sores raw rash wound blood bled bleed burn swollen swell scab blister "
        "lesion graze inflamed chafe chafing bruise itch rub rubs rubbed rubbing neck"
    ),
    "pain or stress": (
        "yelp yelped yelping yip yips yipped yap yaps yapped squeak squeal squawk shriek howl moan "
        "groan ouch cry cried cries scream whine whining whimper vocalise vocalize "
        "pain hurt hurts limp limped limping lame hobble hobbled stagger wobble wobbly "
        "freeze freezing froze frozen stiff rigid cower cringe crouch flatten crawl lay laid fled "
        "bolt hid hide hides hiding cling flinch wince winced recoil jump leapt jerk "
        "tremble trembling shiver shake shakes shaky shaking shook twitch "
        "pant pants panted panting drool salivat gag gags gagged tuck tucks tucked tail "
        "ear ears paw paws startle startled startling spook skittish shy shied "
        "slunk slink sulk subdued withdrawn dull listless lethargic refuse refused refusing shut "
        "stress distress anxious worried nervous upset collapse vomit retch seizure panic scared "
        "afraid fear frightened terrified"
    ),
    "biting or growling": (
        "growl growling bit bite bites biting bitten nip nips nipped snap snapped snarl lunge"
    ),
    "ignored": "ignored ignore ignoring blew",
    "press": (
        "press level levels tap taps tapped button stim shock zap nick nicked momentary continuous "
        "notch bump bumped vibrate vibration tone"
    ),
}
"""Words and beginnings of words. Those of stress are of the signs in the grammar; the others are
common practice, no source. The neck is where the collar lies."""
_STEM_FROM = 4
"""Letters of the shortest that is a beginning of others."""
_NOT = (
    "no not never cannot cant wont didnt doesnt dont wouldnt couldnt hasnt isnt wasnt hardly off "
    "without"
)
_NOT_DONE: Mapping[HarmKind, str] = {
    "pain or stress": "eat eating eaten food dinner supper breakfast meal drink drinking drank",
    "ignored": "look looking looked listen listening listened respond answer come coming react",
}
"""What a line tells of where a dog does not do it: "wouldn't eat", "off his food"."""
_NOT_REACHES = 3
"""Words after "not" up to which it is of one ("didn't want to eat")."""
_PLAIN = re.compile(r"\b(?:a|little|tiny|wee|every) bit\b|\bbits? of\b|\bneck twitch(?:e[sd])?\b")
"""What means something else than its words: "a bit" is no bite, and a neck twitch no skin."""


def harm_told(text: str) -> HarmKind | None:
    """What a text may tell of, what weighs most first; None where nothing in it lies near that."""
    plain = _PLAIN.sub(" ", normalize(text).replace("-", " "))
    words = plain.split()
    found = {_kind(word) for word in words} | _not_done(words)
    return next((kind for kind in get_args(HarmKind) if kind in found), None)


def harm_rank(text: str) -> int:
    """By what lines are put in order: the smaller, the more weighs what a text may tell of."""
    kinds: tuple[HarmKind, ...] = get_args(HarmKind)
    kind = harm_told(text)
    return len(kinds) if kind is None else kinds.index(kind)


def _not_done(words: Sequence[str]) -> set[HarmKind]:
    letters = ["".join(filter(str.isalpha, word)) for word in words]
    return {
        kind
        for kind, deeds in _NOT_DONE.items()
        for place, word in enumerate(letters)
        if word in deeds.split()
        and set(_NOT.split()).intersection(letters[max(0, place - _NOT_REACHES) : place])
    }


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
