"""Phrases to try a grammar's words out on: ways to say one, and what it means."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from voicelog.grammar.grammar import Grammar
from voicelog.model import Phrase
from voicelog.model.phrases import phrase_slots

__all__ = ["meaning", "phrases"]

_NUMBERS = (2, 22)
"""Numbers that stand for all others."""


def phrases(grammar: Grammar) -> Iterator[tuple[str, int]]:
    """The forms of a grammar (`Grammar.forms`) with sample numbers, and the place of each."""
    for place, form in enumerate(grammar.forms):
        for number in _NUMBERS:
            words: list[str] = []
            for part in form.parts:
                spoken = part if isinstance(part, str) else grammar.numbers(part.rule).get(number)
                if spoken is None:
                    break
                words.append(spoken)
            else:
                yield " ".join(words), place


def meaning(said: Sequence[Phrase], but: str = "") -> list[object]:
    """Something to compare what was said by, without the slot `but`."""
    return [
        (phrase.kind, sorted((k, v) for k, v in phrase_slots(phrase).items() if k != but))
        for phrase in said
    ]
