"""Readings that differ only by words that sound alike: "fifteen" and "fifty".

Acoustics hardly tell such twins apart, and a wrong level is the worst record of all, so a
reading that has a twin is asked more of, and the twin is offered beside it. Numbers have
twins among themselves; a dog's own cue words among all words: where "come" is a cue, "came"
is not sure.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import combinations, product
from typing import Literal

from voicelog.grammar.grammar import Grammar, normalize
from voicelog.grammar.pronunciation import (
    NoPronunciationError,
    Phones,
    edit_distance,
    phone_distance,
    shipped_pronouncer,
)
from voicelog.model.phrases import named_level

__all__ = ["ALIKE", "Mistaken", "differ_by_number", "mistaken", "near", "sound_alike_readings"]

ALIKE = 0.75
"""Likeness (0 to 1) from which two words are pointed out; our own choice."""
EASILY = 0.7
"""Phone distance up to which one is easily heard as the other: one sound of a like kind for
another, or a faint one lost. Of people's numbers so far from a word of the dictionary 8% lay nearer
to that word, of those called "sometimes" 2%, of the rest 1% (tests.bench.confusable)."""
Mistaken = Literal["same", "easily", "sometimes"]
"""How soon one is heard as the other: they sound the same, or it happens easily, or sometimes."""

NEAREST = 1
"""Phones by which words of as many syllables may differ to be twins (Levenshtein, no
stress). "seven" and "seventy" are a syllable apart, which is heard."""


def sound_alike_readings(
    grammar: Grammar, words: str, top_level: int | None = None
) -> tuple[str, ...]:
    """The other readings of `words` with one word replaced by its twin.

    Only readings of the grammar count, and only those with no level above `top_level`.
    """
    twin_of = _sound_alike_words(grammar)
    spoken = words.split()
    found: list[str] = []
    for place, word in enumerate(spoken):
        for other in twin_of.get(word, ()):
            reading = " ".join((*spoken[:place], other, *spoken[place + 1 :]))
            if _may_be(grammar, reading, top_level):
                found.append(reading)
    return tuple(found)


def differ_by_number(grammar: Grammar, words: str, other: str) -> bool:
    """Whether two readings of as many words differ in words of numbers alone."""
    numbers = _number_words(grammar)
    return all(
        {a, b} <= numbers for a, b in zip(words.split(), other.split(), strict=True) if a != b
    )


def near(a: str, b: str) -> bool:
    """Whether two words or phrases are near enough to be twins; what has no sound is not."""
    say = shipped_pronouncer()
    try:
        return any(_twin(x, y) for x in say.phrase(a) for y in say.phrase(b))
    except NoPronunciationError:
        return False


@lru_cache(maxsize=8192)  # the page asks it of the same words at each change of a name
def mistaken(said: str, other: str) -> Mistaken | None:
    """How soon `said` is heard as `other`; None where they are unlike, or `other`, kept earlier,
    cannot be pronounced.

    By the closest pair of pronunciations: `phone_distance`, alone and by the phones of the longer
    one. Raises NoPronunciationError where `said` cannot be pronounced.
    """
    say = shipped_pronouncer()
    spoken = say.phrase(said)
    try:
        others = say.phrase(other)
    except NoPronunciationError:
        return None
    apart = [(phone_distance(x, y), max(len(x), len(y))) for x in spoken for y in others]
    least = min(distance for distance, _ in apart)
    if least <= EASILY:
        return "easily" if least else "same"
    like = max(1.0 - distance / phones for distance, phones in apart)
    return "sometimes" if like >= ALIKE else None


def _may_be(grammar: Grammar, reading: str, top_level: int | None) -> bool:
    phrases = grammar.interpret(reading)
    if phrases is None:
        return False
    levels = (named_level(phrase) for phrase in phrases)
    return top_level is None or all(level is None or level <= top_level for level in levels)


@lru_cache(maxsize=8)
def _sound_alike_words(grammar: Grammar) -> dict[str, tuple[str, ...]]:
    numbers = _number_words(grammar)
    cues = {word for cue in grammar.roster.cues for word in normalize(cue).split()}
    others = [word for word in grammar.vocabulary if word not in cues]
    pairs = [*combinations(sorted(numbers), 2), *product(sorted(cues), others)]
    found: dict[str, dict[str, None]] = {}
    for a, b in pairs:
        if near(a, b):
            found.setdefault(a, {})[b] = None
            found.setdefault(b, {})[a] = None
    return {word: tuple(alike) for word, alike in found.items()}


def _number_words(grammar: Grammar) -> set[str]:
    return {word for saying in grammar.numerals.values() for word in saying.split()}


def _twin(a: Phones, b: Phones) -> bool:
    return _syllables(a) == _syllables(b) and edit_distance(a, b) <= NEAREST


def _syllables(phones: Phones) -> int:
    return sum(phone[0] in "AEIOU" for phone in phones)
