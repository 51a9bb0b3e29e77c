"""Which word another may be a slip of: by letters, and never one that is a word of English itself.

Who typed "pressed" meant "pressed": made "praised", an ignored press would become a reward. Only a
word that sounds the same is taken for the one that the log has ("hear" for "here").
"""

from __future__ import annotations

from functools import lru_cache

from rapidfuzz.distance import OSA

from voicelog.grammar.grammar import Grammar
from voicelog.grammar.pronunciation import NoPronunciationError, Pronouncer

__all__ = ["PLACES", "is_english", "is_slip", "number_words"]

_SLIP_FROM = 4
"""Letters of the shortest word in which a slip is mended, with its first letter right."""

_SIDES = "left right side front hind fore near off inside outside top"
_BODY = (
    "back belly cheek chest chin claw claws elbow eye eyes face feet flank foot gum gums head hip "
    "hock jaw knee leg legs muzzle nail nails nose pad pads paw paws rib ribs rump shoulder stifle "
    "tail thigh throat toe toes wrist"
)
PLACES = frozenset(f"{_SIDES} {_BODY}".split())
"""Words that say where on the dog something is: meant as they stand, known or not, and no slip of
another: a red toe is no tone."""
_PRONOUNCER = Pronouncer()


def is_slip(typed: str, meant: str) -> bool:
    """Whether `typed` may be `meant`, a word of the log: but for one letter more, less, other or
    changed about, the first being right, or, where `typed` is English, because it sounds the same
    or is more than one of it ("levels").
    None of `PLACES` is a slip."""
    if typed in PLACES or not typed or typed[0] != meant[0]:
        return False
    if is_english(typed):
        return typed == f"{meant}s" or bool(_sounds(typed) & _sounds(meant))
    return len(meant) >= _SLIP_FROM and OSA.distance(typed, meant, score_cutoff=1) <= 1


def is_english(word: str) -> bool:
    """Whether the pronouncing dictionary has a word."""
    return bool(_sounds(word))


@lru_cache(maxsize=16)
def number_words(grammar: Grammar) -> frozenset[str]:
    """The words of the numbers of a grammar."""
    return frozenset(part for number in grammar.numerals.values() for part in number.split())


@lru_cache(maxsize=50_000)
def _sounds(word: str) -> frozenset[tuple[str, ...]]:
    """How the dictionary says a word; empty where it does not have it."""
    try:
        return frozenset(_PRONOUNCER.listed_variants(word))
    except NoPronunciationError:
        return frozenset()
