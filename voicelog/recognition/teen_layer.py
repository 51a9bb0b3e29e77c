"""How likely a number was said with -teen rather than with -ty, read off Whisper's view of it.

"Thirteen" and "thirty" differ in their stress, in the length of their last vowel and in a consonant
that noise covers first; phone by phone (phone_posteriors.py) little of that is left. So a small
layer of its own looks at the whole word at once, and at what lies just before it and behind. It was
trained on pairs of notes that differ in nothing else (training/teen_layer.py), and is asked about
nothing else: for no other word does anything change.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from voicelog.recognition.array_archive import read_arrays
from voicelog.recognition.phone_posteriors import gelu

if TYPE_CHECKING:
    from os import PathLike

__all__ = ["TEENS", "NumberPlace", "TeenLayer", "TeenPair", "in_teens", "number_points"]

TEENS: Mapping[str, str] = MappingProxyType(
    {
        "thirteen": "thirty",
        "fourteen": "forty",
        "fifteen": "fifty",
        "sixteen": "sixty",
        "seventeen": "seventy",
        "eighteen": "eighty",
        "nineteen": "ninety",
    }
)
"""Numbers in -teen, each with the one in -ty that sounds like it."""
_TEEN_OF = {ten: teen for teen, ten in TEENS.items()}
BEFORE, AFTER = 6, 14
"""Frames of 20 ms that are looked at before the word and behind it: CTC places its end early."""
AHEAD = 20.0
"""Nats in the phones: more tells no more."""
POINTS = 24
"""Places in time that the layer sees."""


class NumberPlace(NamedTuple):
    """Where a number lies, from its first to its last frame of 20 ms as CTC places it, and how far
    the reading with -teen lies ahead of the one with -ty in the phones (nats)."""

    first: int
    last: int
    ahead: float


class TeenPair(NamedTuple):
    """Two readings that differ in nothing but a number in -teen or -ty, and which of their words
    that is."""

    teen: str
    ten: str
    word: int

    @classmethod
    def of(cls, words: str, other: str) -> TeenPair | None:
        """The pair of two readings of as many words; None where they are none."""
        spoken = zip(words.split(), other.split(), strict=True)
        differing = [(place, a, b) for place, (a, b) in enumerate(spoken) if a != b]
        if len(differing) != 1:
            return None
        place, a, b = differing[0]
        if TEENS.get(a) == b:
            return cls(words, other, place)
        return cls(other, words, place) if TEENS.get(b) == a else None


def in_teens(words: str) -> str:
    """A reading with each number in -ty in its form with -teen: the same for readings that differ
    only so."""
    return " ".join(_TEEN_OF.get(word, word) for word in words.split())


class TeenLayer:
    """Two dense layers over the word, brought to one length."""

    def __init__(self, path: str | PathLike[str]) -> None:
        """Read its weights, an archive of NumPy arrays (numpy.savez)."""
        self._weights = read_arrays(path)

    def score(self, encoded: NDArray[np.floating], first: int, last: int) -> float:
        """What speaks for -teen, and below 0 for -ty, in the frames of the encoder's output, shape
        (frames, width), where the number lies from `first` to `last`."""
        known = self._weights
        narrow = number_points(encoded, first, last) @ known["narrow"] + known["narrow bias"]
        inner = np.asarray(narrow.ravel() @ known["wide"] + known["wide bias"], np.float32)
        return float((gelu(inner) @ known["out"] + known["out bias"])[0])

    def __call__(self, ways: Sequence[NDArray[np.floating]], number: NumberPlace) -> float:
        """ln of how likely -teen is over how likely -ty is (nats):

            odds = a * mean score over the ways + b * ahead + c,

        a logistic regression on speakers that the layer had not heard, with `ahead` held to
        +-AHEAD.

        ways: what the encoder makes of each way that the segment is given, shape (frames, width).
        """
        score = np.mean([self.score(one, number.first, number.last) for one in ways])
        ahead = min(max(number.ahead, -AHEAD), AHEAD)
        return float(self._weights["odds"] @ np.array((score, ahead, 1.0)))


def number_points(encoded: NDArray[np.floating], first: int, last: int) -> NDArray[np.float32]:
    """What the encoder puts out at POINTS even moments of a number and what is around it, shape
    (POINTS, width): straight between frames, and the outermost frame beyond them."""
    places = np.linspace(first - BEFORE, last + AFTER, POINTS).clip(0, len(encoded) - 1)
    before = places.astype(np.intp)
    share = (places - before)[:, None].astype(np.float32)
    behind = np.minimum(before + 1, len(encoded) - 1)
    return np.asarray(encoded[before] * (1 - share) + encoded[behind] * share, np.float32)
