"""Words that say two things: a name or a new phrase may make two notes of one."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import islice, product

from voicelog.grammar.grammar import Grammar
from voicelog.grammar.sample_phrases import phrases
from voicelog.model import Phrase

__all__ = ["AmbiguousWords", "ambiguous_words"]

MAX_OVERLAPS = 32
"""Pairs of phrases tried around one cut of a third; the grammar that ships has 12 at most."""
MAX_PAIRS = 20_000
"""Pairs tried in all."""


@dataclass(frozen=True, slots=True)
class AmbiguousWords:
    """Words that say two things; the first is what they are taken for."""

    words: str
    meanings: tuple[tuple[Phrase, ...], ...]


def ambiguous_words(grammar: Grammar) -> tuple[AmbiguousWords, ...]:
    """Phrases, and pairs of them, that say two things, by their words.

    A pair can only do so where some phrase begins in the one and ends in the other. Looked at are
    the phrases that `phrases` gives, and at most MAX_PAIRS pairs of them.
    """
    spoken = [tuple(words.split()) for words, _ in phrases(grammar)]
    heads: dict[tuple[str, ...], list[tuple[str, ...]]] = {}
    tails: dict[tuple[str, ...], list[tuple[str, ...]]] = {}
    for words in spoken:
        for cut in range(1, len(words) + 1):
            heads.setdefault(words[:cut], []).append(words)
            tails.setdefault(words[-cut:], []).append(words)
    said = dict.fromkeys(spoken)
    pairs = (
        first + second
        for across in spoken
        for cut in range(1, len(across))
        for first, second in islice(
            product(tails.get(across[:cut], ()), heads.get(across[cut:], ())), MAX_OVERLAPS
        )
    )
    said |= dict.fromkeys(islice(pairs, MAX_PAIRS))
    found: dict[str, AmbiguousWords] = {}
    for words in said:
        text = " ".join(words)
        meanings = grammar.meanings(text)
        if len(meanings) > 1:
            found[text] = AmbiguousWords(text, meanings)
    return tuple(
        way
        for text, way in sorted(found.items(), key=lambda item: (len(item[0]), item[0]))
        if not any(f" {other} " in f" {text} " for other in found if other != text)
    )
