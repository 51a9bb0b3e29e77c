"""Read English spelling: the sound of a word that no dictionary has, its stem, its ending.

Names and invented cue words stand in no dictionary. In `letter_to_sound` each letter takes the
phones that the same letter has in the dictionary words that share most letters around it
(memory-based learning, as in Daelemans & van den Bosch, 1996). Nothing is trained, stored
or shipped: the words needed are found in the dictionary's text when they are wanted, in
about 0.1 s a word. `python -m tests.bench.pronounce` measures how often it errs.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterator
from functools import lru_cache

__all__ = ["PHONES", "Phones", "ended", "letter_to_sound", "possible_stems"]

Phones = tuple[str, ...]

_PHONE_NAMES = """
AA AE AH AO AW AY B CH D DH EH ER EY F G HH IH IY JH K L M N NG OW OY P R S SH T TH UH UW V W Y
Z ZH
"""
PHONES: frozenset[str] = frozenset(_PHONE_NAMES.split())
"""The 39 ARPAbet phones of the US English acoustic model, without stress."""

_SOUNDS = """
a AH AE AA _ EY EH AO IH         n N _ NG AH+N
b B _                            o OW AH _ AA AO UW UH AW W+AH W+AA
c K _ S CH SH                    p P _ F
d D _ T JH                       q K
e _ EH AH IH IY EY ER            r R ER _ ER+R
f F _ V                          s S Z _ ZH SH
g G NG JH _ ZH                   t T _ CH SH TH
h HH _ SH CH TH DH F             u AH UW _ Y+UW W AO UH Y+AH Y+UH IH Y+ER
i IH IY AY AH _ SH Y             v V F
j JH Y ZH HH                     w W _ AW UW V
k K _                            x K+S G+Z _ Z S K+SH
l L _ AH+L                       y IY AY IH _ Y EY OY
m M _ AH+M                       z Z S _ T+S ZH T
' _
"""
# What each letter can stand for, commonest first; "_" is silence.

_SIBILANT = frozenset(["S", "Z", "SH", "ZH", "CH", "JH"])
_VOICELESS = frozenset(["P", "T", "K", "F", "TH", "S", "SH", "CH"])
_ENDINGS = {"ing": ("IH", "NG"), "er": ("ER",), "y": ("IY",)}

_WINDOWS = (
    ((4, 4), (3, 5)),
    ((4, 3), (3, 4)),
    ((3, 3), (2, 4)),
    ((3, 2), (2, 3)),
    ((3, 1), (2, 2), (1, 3)),
    ((2, 1), (1, 2)),
    ((1, 1), (0, 2)),
    ((0, 1),),
    ((0, 0),),
)
# Letters looked at on the left and on the right of the one asked about, widest first. A word
# found through one line is found through the next: `_letter` relies on it.

_ENOUGH = 3  # examples that settle a letter; with fewer, narrower windows are asked
_MOST = 64  # examples taken from one window, so that a common ending costs no more time


def _sounds() -> dict[str, dict[Phones, float]]:
    """For each letter, its possible phones and the cost of reading it so."""
    table: dict[str, dict[Phones, float]] = {}
    for letter, names in re.findall(r"(\S) ((?:[A-Z+_]+ ?)+)", _SOUNDS):
        table[letter] = {
            () if name == "_" else tuple(name.split("+")): 0.6 * rank + ("+" in name)
            for rank, name in enumerate(names.split())
        }
    return table


_LETTER_COST = _sounds()


@lru_cache(maxsize=8192)
def _align(word: str, phones: Phones) -> tuple[Phones, ...] | None:
    """Share `phones` out among the letters of `word` at the least cost; None if impossible."""
    best: dict[int, tuple[float, tuple[Phones, ...]]] = {0: (0.0, ())}
    for letter in word:
        sounds = _LETTER_COST.get(letter)
        if sounds is None:
            return None
        after: dict[int, tuple[float, tuple[Phones, ...]]] = {}
        for used, (cost, shares) in best.items():
            for size in (0, 1, 2):
                share = phones[used : used + size]
                if len(share) < size:
                    break
                total = cost + sounds.get(share, 11.0)
                if used + size not in after or total < after[used + size][0]:
                    after[used + size] = (total, (*shares, share))
        best = after
    return best[len(phones)][1] if len(phones) in best else None


def _hits(framed: str, at: int, width: int, text: str, most: int) -> list[tuple[int, str]]:
    """At most `most` dictionary lines like framed[at], each with the place of that letter.

    `width` counts into _WINDOWS; the place is an index into "\\n" + line.
    """
    found: dict[int, int] = {}
    spans = {
        (max(0, at - left), min(len(framed), at + right + 1)): None
        for left, right in _WINDOWS[width]
    }
    for first, end in spans:
        window = framed[first:end]
        hit = text.find(window)
        while hit >= 0 and len(found) < most:
            start = text.rfind("\n", 0, hit + 1)
            found[start] = hit - start + at - first
            hit = text.find(window, hit + 1)
    return [(place, text[start + 1 : text.find("\n", start + 1)]) for start, place in found.items()]


def _shared(a: str, i: int, b: str, j: int) -> int:
    """Count the letters around a[i] that also stand around b[j], in both directions."""
    count = 0
    for step in (-1, 1):
        k = step
        while 0 <= i + k < len(a) and 0 <= j + k < len(b) and a[i + k] == b[j + k]:
            count += 1
            k += step
    return count


def _letter(framed: str, at: int, text: str) -> Phones | None:
    """The phones of framed[at], by a vote that doubles with every further shared letter."""
    widths = range(len(_WINDOWS))
    widest = bisect_left(
        widths, True, key=lambda i: len(_hits(framed, at, i, text, _ENOUGH)) >= _ENOUGH
    )
    votes: dict[Phones, float] = defaultdict(float)
    for width in widths[widest:] or widths[-1:]:
        for place, line in _hits(framed, at, width, text, _MOST):
            head, *phones = line.split()
            word = head.partition("(")[0]
            shares = _align(word, tuple(phones)) if PHONES.issuperset(phones) else None
            if shares is not None:
                alike = _shared(framed, at, f"\n{word} ", place)
                votes[shares[place - 1]] += 2.0**alike
        if votes:
            return max(votes, key=lambda share: votes[share])
    return None


def letter_to_sound(word: str, text: str) -> Phones:
    """Pronounce `word` (a-z only, at least one letter) by its letters; never empty.

    `text` is a dictionary as PocketSphinx reads it, one "word P H O N E S" per line with
    small letters, and begins and ends with a newline. Where it has no example at all, each letter
    takes its commonest sound.
    """
    framed = f"\n{word} "
    found = [_letter(framed, at, text) for at in range(1, len(word) + 1)]
    shares = [
        next(iter(_LETTER_COST[letter])) if share is None else share
        for letter, share in zip(word, found, strict=True)
    ]
    phones = tuple(phone for share in shares for phone in share)
    if phones:
        return phones
    return tuple(phone for letter in word for phone in next(filter(None, _LETTER_COST[letter])))


def _before(base: str) -> Iterator[str]:
    """What `base` + "ed", "ing" and the like may come from, likeliest first: hope, hop, pull."""
    if re.search(r"[^aeiou][aeiouy][^aeiouwxy]$", base):
        yield base + "e"
        yield base
    else:
        yield base
        if re.search(r"([^aeiou])\1$", base):
            yield base[:-1]
        yield base + "e"


def possible_stems(word: str) -> Iterator[tuple[str, str]]:
    """Each word that `word` may be an inflection of, with the ending."""
    if word.endswith("'s"):
        yield word[:-2], "s"
    elif word.endswith("ies"):
        yield word[:-3] + "y", "s"
        yield word[:-1], "s"
    elif re.search(r"(?:ss|zz|x|ch|sh|o)es$", word):
        yield word[:-2], "s"
        yield word[:-1], "s"
    elif re.search(r"[^s]s$", word):
        yield word[:-1], "s"
    elif word.endswith("ied"):
        yield word[:-3] + "y", "ed"
    else:
        for ending in ("ed", *_ENDINGS):
            if word.endswith(ending):
                yield from ((stem, ending) for stem in _before(word.removesuffix(ending)))


def ended(stem: Phones, ending: str) -> Phones:
    """`stem` with the ending as English says it: yelp-T, squeal-D, bolt-IH-D."""
    last = stem[-1]
    if ending in _ENDINGS:
        return (*stem, *_ENDINGS[ending])
    if ending == "ed":
        if last in ("T", "D"):
            return (*stem, "IH", "D")
        return (*stem, "T" if last in _VOICELESS else "D")
    if last in _SIBILANT:
        return (*stem, "IH", "Z")
    return (*stem, "S" if last in _VOICELESS else "Z")
